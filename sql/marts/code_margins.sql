-- One row per model line, code and module, with the baskets that hold the code and in which the module was read.
-- grain: line, code, module
-- reads: marts.basket_codes, marts.basket_modules, marts.baskets
select baskets.line, codes.code, modules.module, count(*) as baskets
from marts.basket_codes as codes
join marts.basket_modules as modules on modules.basket = codes.basket
join marts.baskets as baskets on baskets.basket = codes.basket
group by baskets.line, codes.code, modules.module
