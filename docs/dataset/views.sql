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
-- The route-card revision in force in each week, at its end or at the cut-off: the newest that is
-- effective by then, else the first to come.
CREATE VIEW in_force AS SELECT site, product, week, revision, target, plan_h FROM (
  SELECT revisions.site, product, week, revision, target, plan_h, row_number() OVER (
    PARTITION BY revisions.site, product, week
    ORDER BY CASE WHEN effective_at <= in_force_at THEN 0 ELSE 1 END,
      CASE WHEN effective_at <= in_force_at THEN effective_at END DESC,
      CASE WHEN effective_at <= in_force_at THEN place END DESC,
      effective_at, place
  ) AS nth
  FROM revisions JOIN weeks ON weeks.site = revisions.site
) AS ranked WHERE nth = 1;
