-- Planned cycle time [h] of the route card in force at the end of a week, or at the cut-off.
SELECT plan_h FROM revisions CROSS JOIN weeks
WHERE revisions.site = $site AND weeks.site = $site AND week = $week AND product = $product
ORDER BY CASE WHEN effective_at <= in_force_at THEN 0 ELSE 1 END,
  CASE WHEN effective_at <= in_force_at THEN effective_at END DESC,
  CASE WHEN effective_at <= in_force_at THEN place END DESC,
  effective_at, place
LIMIT 1
