"""What a shop's history tells: which drawer to keep, what a supplier's sizes really measure, how well gauges repeat.

`needs` lists, for each job as it was read, the stacks that would have served it; `seasons` draws the jobs between two
deliveries from them and says how many a kit of parts serves, one after another; `kit_model` is the best kit for some
seasons as a whole-number model, with a bound that holds exactly; `kit_search` looks for the kit, and `assortment` puts
it to the test on seasons that the search has not seen.

`history` reads drawers, records and tables; `pieces_measured` and `gauge_pairs` make of them pieces and pairs of
readings, `true_sizes` and `true_gauge` say by plain arithmetic what these tell, and `supplier_sizes` what of it is more
than a label says, and what is too little.
"""
