"""The same warm-up by thermsim and by general-purpose peers: `python -m tests.benchmarks.warm_up`."""
