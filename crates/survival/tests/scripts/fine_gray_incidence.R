# Predicted incidence of a sub-distribution model with its standard error, weights taken as known.
# Run in crates/survival: Rscript tests/scripts/fine_gray_incidence.R    (made with R 4.2.2, survival 3.5-3)
# Source of the data: tests/reference/data/melanoma.csv
suppressMessages(library(survival))
d <- read.csv("tests/reference/data/melanoma.csv")
d$state <- factor(d$event, 0:2)
d$row <- seq_len(nrow(d))
w <- finegray(Surv(time, state) ~ ., d, etype = "1")
fit <- coxph(Surv(fgstart, fgstop, fgstatus) ~ age + ulcer, w, weights = fgwt, cluster = row, ties = "breslow",
             control = coxph.control(eps = 1e-12, toler.chol = 1e-13))
curve <- summary(survfit(fit, data.frame(age = 60, ulcer = 1)), times = c(500, 1000, 2000, 3000))
print(data.frame(time = curve$time, incidence = 1 - curve$surv, std_error = curve$std.err), digits = 15)
# limits from the logarithm of the cumulative hazard: se of log H = se of H / H
H <- -log(curve$surv); se <- curve$std.err / curve$surv / H; z <- qnorm(.975)
print(cbind(1 - exp(-H * exp(-z * se)), 1 - exp(-H * exp(z * se))), digits = 15)
