-- Cycle time [h] of the parts released in a week: release less creation. The 90th percentile lies
-- at position (n - 1) 0.9 of the sorted values, by linear interpolation, as percentile_cont does.
SELECT count(*) AS n, avg(cycle_us) / 3.6e9 AS mean,
  percentile_cont(0.5) WITHIN GROUP (ORDER BY cycle_us) / 3.6e9 AS median,
  percentile_cont(0.9) WITHIN GROUP (ORDER BY cycle_us) / 3.6e9 AS p90
FROM parts CROSS JOIN weeks
WHERE parts.site = $site AND weeks.site = $site AND week = $week AND product = $product
  AND released_at >= week_from AND released_at < week_to
