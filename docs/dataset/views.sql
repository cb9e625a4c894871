-- The tables of a data set as views; $folder is where it lies.
-- A cluster engine: one table a folder, partitioned by site and month, as it registers them.
CREATE VIEW parts AS SELECT * FROM read_parquet($folder || '/parts/*/*/*.parquet',
  hive_partitioning = true, hive_types = {'site': VARCHAR, 'month': VARCHAR});
CREATE VIEW visits AS SELECT * FROM read_parquet($folder || '/visits/*/*/*.parquet',
  hive_partitioning = true, hive_types = {'site': VARCHAR, 'month': VARCHAR});
CREATE VIEW readings AS SELECT * FROM read_parquet($folder || '/readings/*/*/*.parquet',
  hive_partitioning = true, hive_types = {'site': VARCHAR, 'month': VARCHAR});
CREATE VIEW revisions AS SELECT * FROM read_parquet($folder || '/revisions/*/*.parquet',
  hive_partitioning = true, hive_types = {'site': VARCHAR});
CREATE VIEW steps AS SELECT * FROM read_parquet($folder || '/steps/*/*.parquet',
  hive_partitioning = true, hive_types = {'site': VARCHAR});
CREATE VIEW weeks AS SELECT * FROM read_parquet($folder || '/weeks/*/*.parquet',
  hive_partitioning = true, hive_types = {'site': VARCHAR});
