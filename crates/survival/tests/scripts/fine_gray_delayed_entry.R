# Makes tests/reference/data/fine_gray_delayed_entry.csv (invented) and prints what R survival says of it: weights by finegray, fit by coxph.
# Run in crates/survival: Rscript tests/scripts/fine_gray_delayed_entry.R
suppressMessages(library(survival))
set.seed(5)
n <- 300
x <- rnorm(n)
z <- rbinom(n, 1, .4)
t1 <- rexp(n, exp(.5 * x) / 200)
t2 <- rexp(n, 1 / 400)
c <- runif(n, 30, 700)
s <- floor(ifelse(runif(n) < .4, runif(n, 0, 150), 0))
t <- ceiling(pmin(t1, t2, c))
st <- ifelse(t1 <= pmin(t2, c), 1, ifelse(t2 <= c, 2, 0))
d <- data.frame(entry = s, exit = t, cause = st, x = round(x, 4), z = z, row = 1:n)[t > s, ]
write.csv(d, "tests/reference/data/fine_gray_delayed_entry.csv", row.names = FALSE, quote = FALSE)
d$subject <- d$row
f <- finegray(Surv(entry, exit, factor(cause, 0:2)) ~ x + z + row, data = d, id = subject, etype = "1")
m <- coxph(Surv(fgstart, fgstop, fgstatus) ~ x + z, data = f, weights = fgwt, cluster = row, ties = "breslow")
print(coef(m), digits = 10)
print(sqrt(diag(vcov(m))), digits = 10)
d$of <- d$z
f <- finegray(Surv(entry, exit, factor(cause, 0:2)) ~ x + of + row + strata(z), data = d, id = subject, etype = "1")
m <- coxph(Surv(fgstart, fgstop, fgstatus) ~ x + strata(of), data = f, weights = fgwt, cluster = row, ties = "breslow")
print(coef(m), digits = 10)
print(sqrt(diag(vcov(m))), digits = 10)
