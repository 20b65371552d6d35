-- One row per model line and pair of codes that ever met, with the baskets and vehicles in which they did.
-- grain: line, code_a, code_b
-- reads: marts.basket_codes, marts.baskets
select
    baskets.line,
    a.code as code_a,
    b.code as code_b,
    count(*) as baskets,
    count(distinct baskets.vehicle) as vehicles
from marts.basket_codes as a
join marts.basket_codes as b on b.basket = a.basket and b.code > a.code
join marts.baskets as baskets on baskets.basket = a.basket
group by baskets.line, a.code, b.code
