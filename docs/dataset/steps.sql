-- Each step over the visits that ended in a week: first-pass yield with Wilson's 95 % interval,
-- rework ratio, medians of touch and queue [h]. A concession is no first pass.
WITH ended AS (
  SELECT visits.* FROM visits CROSS JOIN weeks
  WHERE visits.site = $site AND weeks.site = $site AND week = $week AND product = $product
    AND step IS NOT NULL AND end_at >= week_from AND end_at < week_to
), counts AS (
  SELECT step, count(*) AS visits,
    count(CASE WHEN "first" THEN 1 END) AS first_visits,
    count(CASE WHEN "first" AND outcome = 'pass' THEN 1 END) AS first_passes,
    count(CASE WHEN outcome IN ('rework', 'repair') THEN 1 END) AS reworks,
    percentile_cont(0.5) WITHIN GROUP (ORDER BY touch_us) / 3.6e9 AS touch_h_median,
    percentile_cont(0.5) WITHIN GROUP (ORDER BY queue_us) / 3.6e9 AS queue_h_median
  FROM ended GROUP BY step
), yields AS (
  SELECT *, nullif(first_visits, 0) AS n, 1.959963984540054 AS z,
    CAST(first_passes AS DOUBLE PRECISION) / nullif(first_visits, 0) AS p
  FROM counts
)
SELECT step, visits, first_visits, first_passes, p AS first_pass_yield,
  (p + z * z / (2 * n) - z * sqrt(p * (1 - p) / n + z * z / (4.0 * n * n))) / (1 + z * z / n)
    AS low,
  (p + z * z / (2 * n) + z * sqrt(p * (1 - p) / n + z * z / (4.0 * n * n))) / (1 + z * z / n)
    AS high,
  CAST(reworks AS DOUBLE PRECISION) / visits AS rework_ratio, touch_h_median, queue_h_median
FROM yields ORDER BY step
