"""The example that `shimopt new --yes` writes."""

JOB = """\
# A job: what was read on the trial assembly, what is allowed, and where shims may go.
title  = "My rebuild"
unit   = "thou"                # mm, um, in or thou; text carries its own: "0.35 mm", "5/64 in"
drawer = "drawer.csv"          # what is on hand

[window]                       # for every gap that has none of its own
min    = 4                     # one of the two may be "none"
max    = 12
source = "who states these figures: manual and page, drawing, letter"

[stacks]
most_pieces = 3                # in one stack

[[seat]]                       # the geometry a shim sits on
name  = "shaft end"
shaft = "0.6248 in ± 0.0002 in"

[[gap]]                        # one per reading
name   = "left arm"
seat   = "shaft end"
feeler = { go = 17, no_go = 18 }     # the thickest blade that goes, the thinnest that does not

[[gap]]
name   = "right arm"
seat   = "shaft end"
feeler = { snug = 10, step = 1 }     # a tight pull: 10 give or take half a step

# gaps that should come out alike, if you wish
[[balance]]
name   = "both arms"
gaps   = ["left arm", "right arm"]
within = 2
"""

DRAWER = """\
part,thickness_thou,inner_in,on_hand
S-02,2,0.6265,4
S-05,5,0.6265,2
S-10,10,0.6265,1
"""
