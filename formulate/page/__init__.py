"""The page: what the commands do, in a browser on the same machine.

Every answer comes from a job, and what is saved are the files themselves. Nothing is worked out here.
"""
