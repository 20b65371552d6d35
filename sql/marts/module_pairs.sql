-- One row per model line and pair of modules, with the baskets in which both were read.
-- grain: line, module_a, module_b
-- reads: marts.basket_modules, marts.baskets
select baskets.line, a.module as module_a, b.module as module_b, count(*) as baskets
from marts.basket_modules as a
join marts.basket_modules as b on b.basket = a.basket and b.module >= a.module
join marts.baskets as baskets on baskets.basket = a.basket
group by baskets.line, a.module, b.module
