"""What earlier checks found, kept by digests of all it depends on; and large sets judged by several processes."""
