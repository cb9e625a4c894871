-- Readings of a week by step and characteristic: how many, their mean and standard deviation.
SELECT step, characteristic, unit, count(*) AS n, avg(value) AS mean, stddev_samp(value) AS sd
FROM readings CROSS JOIN weeks
WHERE readings.site = $site AND weeks.site = $site AND week = $week AND product = $product
  AND "at" >= week_from AND "at" < week_to
GROUP BY step, characteristic, unit ORDER BY step, characteristic, unit
