# Sandwich variance of the interval-censored Weibull model from its definition: scores by central differences of the log
# likelihood, summed within clinics, between the inverse information. Run in tests/scripts; R 4.2.2, survival 3.5-3.
# (survival's own dfbeta residuals are not used: for interval-censored rows their derivative in the log scale is not that of
# the log likelihood, as the columns of U below show, which add up to zero where theirs do not.)
library(survival)
d <- read.csv("../reference/data/ic_sim300.csv")
d$l <- ifelse(d$left == 0, NA, d$left)
f <- survreg(Surv(l, right, type = "interval2") ~ x + z, d, dist = "weibull")
loglik <- function(p) {
  e <- p[1] + p[2] * d$x + p[3] * d$z
  s <- exp(p[4])
  upper <- ifelse(is.na(d$right), Inf, d$right)
  log(exp(-exp((log(d$left) - e) / s)) - exp(-exp((log(upper) - e) / s)))
}
p <- c(coef(f), log(f$scale))
h <- 1e-5
U <- sapply(1:4, function(j) {
  up <- p; up[j] <- p[j] + h
  down <- p; down[j] <- p[j] - h
  (loglik(up) - loglik(down)) / (2 * h)
})
variance <- f$var %*% crossprod(rowsum(U, d$clinic)) %*% f$var
cat(colSums(U), "\n")
write(signif(t(variance), 10), stdout(), ncolumns = 4)
