# Logistic models, calibration and discrimination on the diabetic retinopathy trial (R survival 3.5-3, columns renamed), with
# base R 4.2.2 and the definitions. Run in tests/scripts:
#   Rscript logistic_reference.R > ../reference/expected/logistic.json
d <- read.csv("../reference/data/diabetic.csv")
f <- glm(status ~ trt + age + risk, binomial, d, control = list(epsilon = 1e-15, maxit = 50))
X <- model.matrix(f)
V <- solve(crossprod(X * sqrt(fitted(f) * (1 - fitted(f)))))
U <- X * (d$status - fitted(f))
robust <- V %*% crossprod(rowsum(U, d$id)) %*% V
weight <- 1 + d$id %% 3
g <- suppressWarnings(glm(status ~ trt + age + risk, binomial, d, weights = weight, control = list(epsilon = 1e-15, maxit = 50)))

# Firth's penalised likelihood from its definition, by a general-purpose optimiser, polished by its own score equation
small <- d[d$id < 250, ]
firth <- function(y, X) {
  info <- function(b) { p <- plogis(drop(X %*% b)); crossprod(X * sqrt(p * (1 - p))) }
  value <- function(b) { e <- drop(X %*% b); sum(y * e - log1p(exp(e))) + 0.5 * determinant(info(b))$modulus }
  b <- optim(rep(0, ncol(X)), function(b) -value(b), method = "BFGS", control = list(reltol = 1e-15, maxit = 500))$par
  for (i in 1:200) {
    p <- plogis(drop(X %*% b))
    h <- rowSums((X %*% solve(info(b))) * X) * p * (1 - p)
    b <- b + drop(solve(info(b), crossprod(X, y - p + h * (0.5 - p))))
  }
  list(b = b, value = as.numeric(value(b)), se = sqrt(diag(solve(info(b)))))
}
scaled <- cbind(1, small$trt, small$age, small$risk)
p <- firth(small$status, scaled)

# calibration of a prediction made with rounded coefficients
predicted <- plogis(-1.5 + 0.02 * d$age + 0.1 * d$risk - 1.2 * d$trt)
logit <- qlogis(predicted)
large <- glm(status ~ offset(logit), binomial, d, control = list(epsilon = 1e-15, maxit = 50))
slope <- glm(status ~ logit, binomial, d, control = list(epsilon = 1e-15, maxit = 50))

# c statistic over all pairs, and its infinitesimal jackknife by patient
yes <- predicted[d$status == 1]
no <- predicted[d$status == 0]
wins <- outer(yes, no, function(a, b) (a > b) + 0.5 * (a == b))
c_stat <- mean(wins)
influence <- numeric(nrow(d))
influence[d$status == 1] <- (rowMeans(wins) - c_stat) / length(yes)
influence[d$status == 0] <- (colMeans(wins) - c_stat) / length(no)

num <- function(x) paste0("[", paste(format(x, digits = 15, trim = TRUE), collapse = ", "), "]")
rows <- function(m) paste0("[", paste(apply(m, 1, num), collapse = ", "), "]")
field <- function(name, value) paste0('"', name, '": ', value)
one <- function(x) format(x, digits = 15)
cat("{", paste(c(
  field("coef", num(coef(f))), field("variance", rows(V)), field("robust_variance", rows(robust)),
  field("loglik", one(as.numeric(logLik(f)))), field("loglik_null", one(-f$null.deviance / 2)),
  field("weighted_coef", num(coef(g))), field("weighted_se", num(sqrt(diag(vcov(g))))),
  field("firth_coef", num(p$b)), field("firth_se", num(p$se)), field("firth_loglik", one(p$value)),
  field("in_the_large", num(c(coef(large), sqrt(vcov(large))))),
  field("calibration", num(coef(slope))), field("calibration_se", num(sqrt(diag(vcov(slope))))),
  field("expected", one(sum(predicted))), field("brier", one(mean((predicted - d$status)^2))),
  field("c", one(c_stat)), field("c_se_clustered", one(sqrt(sum(rowsum(influence, d$id)^2)))),
  field("c_se", one(sqrt(sum(influence^2))))), collapse = ",\n "), "}\n")
