"""Working on a cluster, for all that searches pairs within the block."""

from assembly.parallel.cluster import on_cluster as on_cluster
