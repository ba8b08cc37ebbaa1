"""Many at once: millions of separate gaps by one table of stacks, or a folder of jobs on all cores.

Nothing is loaded here, so that `shimopt --help` does not wait for tables: `batching` answers files of gaps, `many`
frames; `jobs` plans folders of jobs; `cluster` has pieces answered on other machines.
"""
