"""The bench page: readings in, answer out, in a browser at the machine.

One process answers browsers and never plans (`web_server`, `connections`, `secure_lines`); two plan and never answer
browsers (`planners` asks, `planning_process` works, `tasks`, `page_tasks` and `change_tasks` are what it can do;
`page_making` says how much may be asked for, `shown_plan` which plan a page shows). All that the pages of a folder are
made from is a `Shop`; `application` puts its routes behind the `guard`, which says who may ask.

A reading goes this way: `reading_pages` takes it from a form (`posted`), `reading_said` reads it, `readings` holds it
against the job as the server has it in hand (`in_hand`), keeps it on disk (`readings_log`), remembers who said what
(`readings_book`), and answers for its gap alone. Then `desk` has the job planned: the planning process first writes
what is to stand in the job's file (`reading_written`, `gap_as_written`, `table_row`), then tells the plan, then the
reasons; `feed` tells the pages that listen. A newer reading drops a plan that is under way. What was not written
before the server ended is written when it starts again.

A `*_view.py` makes plain data of a job or a decision, a template in `pages/` makes the page of it, a handler in a
`*_pages.py` answers with it. What changes something calls the door that the command of that name calls.
"""
