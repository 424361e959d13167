"""What runs the service: environment, locks, checks, the batch job and the cluster manifests."""
