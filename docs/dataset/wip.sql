-- WIP by step at the end of a week, or at the cut-off if that is earlier: parts created, neither
-- released nor scrapped nor used, at the step they are in work at, else at the one they wait for.
-- Events before that instant count, not those at it.
WITH standing AS (
  SELECT CASE WHEN end_at IS NULL OR end_at >= counted_to THEN step ELSE next_step END AS step
  FROM visits CROSS JOIN weeks
  WHERE visits.site = $site AND weeks.site = $site AND week = $week AND product = $product
    AND begin_at < counted_to AND (leave_at IS NULL OR leave_at >= counted_to)
)
SELECT step, count(*) AS parts FROM standing WHERE step IS NOT NULL GROUP BY step ORDER BY step
