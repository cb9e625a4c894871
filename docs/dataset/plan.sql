-- Planned cycle time [h] of the route card in force at the end of a week, or at the cut-off.
SELECT plan_h FROM in_force WHERE site = $site AND product = $product AND week = $week
