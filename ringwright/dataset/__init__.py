"""A site's whole record as a partitioned Parquet data set, for engines of any size."""
