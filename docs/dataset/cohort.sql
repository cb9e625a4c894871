-- The parts created in a week and what became of them by the cut-off.
SELECT count(*) AS created, count(released_at) AS released, count(scrapped_at) AS scrapped,
  count(*) - count(released_at) - count(scrapped_at) AS open
FROM parts CROSS JOIN weeks
WHERE parts.site = $site AND weeks.site = $site AND week = $week AND product = $product
  AND created_at >= week_from AND created_at < week_to
