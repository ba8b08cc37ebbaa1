"""The bench page: readings in, answer out, in a browser at the machine.

`web_server` runs one process that answers browsers and never plans; `planners` are two that plan and never answer
browsers. `folder_scan` says which jobs there are, by ids and never by paths; `guard` who may ask for what; `desk` holds
what is known of each job and what is still to be worked out; `application` lists the routes.

A `*_view.py` makes plain data of a job or a decision, a template in `pages/` makes the page of it.
"""
