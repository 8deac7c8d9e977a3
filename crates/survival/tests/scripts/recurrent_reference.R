# Conditional models of recurrent bladder tumours (R survival 3.5-3 bladder2, columns renamed), R 4.2.2. Run in tests/scripts:
#   Rscript recurrent_reference.R > ../reference/expected/recurrent.json
library(survival)
d <- read.csv("../reference/data/bladder2.csv")
f <- coxph(Surv(stop - start, event) ~ rx + size + number + strata(enum), d, cluster = id, control = coxph.control(eps = 1e-14, iter.max = 50))
num <- function(x) paste0("[", paste(format(x, digits = 15, trim = TRUE), collapse = ", "), "]")
cat("{", '"gap_coef":', num(unname(coef(f))), ', "gap_robust_se":', num(sqrt(diag(f$var))), ', "gap_loglik":', num(f$loglik), "}\n")
