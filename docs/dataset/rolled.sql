-- Rolled throughput yield of a week: the product of the first-pass yields over the steps that had
-- a first visit; null when none had. A yield of nought makes it nought.
WITH yields AS (
  SELECT step, avg(CASE WHEN outcome = 'pass' THEN 1.0 ELSE 0.0 END) AS p
  FROM visits CROSS JOIN weeks
  WHERE visits.site = $site AND weeks.site = $site AND week = $week AND product = $product
    AND "first" AND step IS NOT NULL AND end_at >= week_from AND end_at < week_to
  GROUP BY step
)
SELECT CASE WHEN min(p) = 0 THEN 0 ELSE exp(sum(ln(nullif(p, 0)))) END AS rolled FROM yields
