-- Output, scrapped and created of a week, its target, and final yield with Wilson's 95 % interval
-- (E. B. Wilson, JASA 22, 1927).
WITH week AS (
  SELECT * FROM weeks WHERE site = $site AND week = $week
), counts AS (
  SELECT
    count(CASE WHEN released_at >= week_from AND released_at < week_to THEN 1 END) AS output,
    count(CASE WHEN scrapped_at >= week_from AND scrapped_at < week_to THEN 1 END) AS scrapped,
    count(CASE WHEN created_at >= week_from AND created_at < week_to THEN 1 END) AS created
  FROM parts CROSS JOIN week
  WHERE parts.site = $site AND product = $product
), promised AS (
  SELECT target FROM in_force WHERE site = $site AND product = $product AND week = $week
), yields AS (
  SELECT output, scrapped, created, output + scrapped AS n,
    CAST(output AS DOUBLE PRECISION) / nullif(output + scrapped, 0) AS p,
    1.959963984540054 AS z
  FROM counts
)
SELECT output, scrapped, created, target, n AS final_n, p AS final_yield,
  (p + z * z / (2 * n) - z * sqrt(p * (1 - p) / n + z * z / (4.0 * n * n))) / (1 + z * z / n)
    AS final_low,
  (p + z * z / (2 * n) + z * sqrt(p * (1 - p) / n + z * z / (4.0 * n * n))) / (1 + z * z / n)
    AS final_high
FROM yields CROSS JOIN promised
