"""Tasks on the processes of this machine or on any ``concurrent.futures`` executor: the only door to one."""
