# What R says of the tables that compare.py made: Rscript answers.R FOLDER. A line a number: table, quantity, value.
suppressMessages({library(survival); library(cmprsk)})
folder <- commandArgs(TRUE)[1]
say <- function(quantity, values) {
  values <- as.numeric(values)
  names <- if (length(values) > 1) paste0(quantity, ":", seq_along(values)) else quantity
  cat(sprintf("%s\t%s\t%s\n", table, names, ifelse(is.na(values), "NA", sprintf("%.15g", values))), sep = "")
}
try_say <- function(quantity, make) {
  values <- tryCatch(suppressWarnings(make()), error = function(e) NULL)
  if (!is.null(values)) say(quantity, values)
}
times <- c(4, 9, 15)
at <- function(fit) summary(fit, times = times, extend = TRUE)
kept <- function(fit) max(fit$time)
# values at times that the curve reaches, the others not compared
reached <- function(fit, values) ifelse(times <= kept(fit), values, NA)

follow_up <- function(d) {
  d$one <- 1
  S <- if (all(d$entry == 0)) Surv(d$exit, d$cause > 0) else Surv(d$entry, d$exit, d$cause > 0)
  S1 <- if (all(d$entry == 0)) Surv(d$exit, d$cause == 1) else Surv(d$entry, d$exit, d$cause == 1)
  M <- if (all(d$entry == 0)) Surv(d$exit, factor(d$cause, 0:2)) else Surv(d$entry, d$exit, factor(d$cause, 0:2))
  for (type in c("plain", "log", "log-log", "logit", "arcsin")) {
    fit <- survfit(S ~ 1, conf.type = type)
    try_say(paste0("km-lower-", type), function() reached(fit, at(fit)$lower))
    try_say(paste0("km-upper-", type), function() reached(fit, at(fit)$upper))
  }
  fit <- survfit(S ~ 1)
  try_say("km", function() reached(fit, at(fit)$surv))
  try_say("km-se", function() reached(fit, at(fit)$std.err))
  # between events R counts those at risk at the next one, who may enter later than the time asked for
  if (all(d$entry == 0)) try_say("km-risk", function() reached(fit, at(fit)$n.risk))
  fit <- survfit(S ~ 1, weights = d$weight, cluster = d$cluster)
  try_say("km-robust", function() reached(fit, at(fit)$surv))
  try_say("km-robust-se", function() reached(fit, at(fit)$std.err))
  fit <- survfit(S ~ 1, stype = 2, ctype = 1)
  try_say("na", function() reached(fit, at(fit)$cumhaz))
  try_say("na-se", function() reached(fit, at(fit)$std.chaz))
  fit <- survfit(S ~ 1, stype = 2, ctype = 1, weights = d$weight, cluster = d$cluster)
  try_say("na-robust", function() reached(fit, at(fit)$cumhaz))
  try_say("na-robust-se", function() reached(fit, at(fit)$std.chaz))
  fit <- survfit(S ~ 1)
  try_say("rmst", function() summary(fit, rmean = 9)$table[c("rmean", "se(rmean)")])
  for (rho in 0:1) try_say(paste0("survdiff-", rho), function() if (all(d$entry == 0)) survdiff(S ~ d$group + strata(d$stratum), rho = rho)$chisq)
  fit <- survfit(M ~ 1, id = d$row)
  try_say("cif", function() reached(fit, at(fit)$pstate[, 2]))
  try_say("cif-se", function() reached(fit, at(fit)$std.err[, 2]))
  fit <- survfit(M ~ 1, weights = d$weight, id = d$row)
  try_say("cif-weighted", function() reached(fit, at(fit)$pstate[, 2]))
  try_say("cif-weighted-se", function() reached(fit, at(fit)$std.err[, 2]))
  if (all(d$entry == 0) && all(d$exit > 0)) try_say("gray", function() cuminc(d$exit, d$cause, d$group, d$stratum)$Tests[1, "stat"])
  for (ties in c("efron", "breslow", "exact")) {
    fit <- tryCatch(suppressWarnings(coxph(S1 ~ x + z + strata(stratum), d, ties = ties, control = coxph.control(eps = 1e-12, iter.max = 60))), error = function(e) NULL)
    if (is.null(fit) || anyNA(coef(fit)) || any(abs(coef(fit)) > 8) || any(diag(fit$var) == 0)) next
    name <- paste0("cox-", ties)
    say(paste0(name, "-coef"), coef(fit)); say(paste0(name, "-se"), sqrt(diag(fit$var)))
    say(paste0(name, "-loglik"), fit$loglik); try_say(paste0(name, "-score"), function() fit$score)
    if (ties != "exact") {
      for (transform in c("identity", "log", "km", "rank")) if (transform != "log" || all(d$exit[d$cause == 1] > 0))
        try_say(paste0(name, "-zph-", transform), function() cox.zph(fit, transform = transform)$table[, "chisq"])
      try_say(paste0(name, "-concordance"), function() c(concordance(fit)$concordance, sqrt(concordance(fit)$var)))
      try_say(paste0(name, "-curve"), function() {
        curve <- survfit(fit, data.frame(x = .5, z = 1, stratum = 0))
        c(reached(curve, at(curve)$surv), reached(curve, at(curve)$std.err))
      })
      fit <- suppressWarnings(coxph(S1 ~ x + z + strata(stratum), d, ties = ties, weights = d$weight, cluster = d$cluster, control = coxph.control(eps = 1e-12, iter.max = 60)))
      if (anyNA(coef(fit)) || any(abs(coef(fit)) > 8)) next
      say(paste0(name, "-robust-coef"), coef(fit)); say(paste0(name, "-robust-se"), sqrt(diag(fit$var)))
      for (kind in c("martingale", "deviance", "score", "dfbeta")) try_say(paste0(name, "-of-row-", kind), function() residuals(fit, kind))
      try_say(paste0(name, "-schoenfeld"), function() sort(round(residuals(fit, "schoenfeld")[, 1], 9)))
      try_say(paste0(name, "-robust-curve"), function() {
        curve <- survfit(fit, data.frame(x = .5, z = 1, stratum = 0))
        c(reached(curve, at(curve)$surv), reached(curve, at(curve)$std.err))
      })
    }
  }
  d$state <- factor(d$cause, 0:2, c("none", "first", "second"))
  try_say("fine-gray", function() {
    # finegray leaves case weights out of the censoring distribution; rows repeated say what weights mean (they are halves)
    d <- d[rep(seq_len(nrow(d)), 2 * d$weight), ]
    d$row <- seq_len(nrow(d))
    weighted <- if (all(d$entry == 0)) finegray(Surv(exit, state) ~ ., d, etype = "first")
      else finegray(Surv(entry, exit, state) ~ ., d, etype = "first", id = row)
    fit <- coxph(Surv(fgstart, fgstop, fgstatus) ~ x + z, weighted, weights = fgwt, cluster = cluster, ties = "breslow", control = coxph.control(eps = 1e-12))
    if (anyNA(coef(fit)) || any(abs(coef(fit)) > 8)) return(NULL)
    c(coef(fit), sqrt(diag(fit$var)))
  })
  for (dist in c("weibull", "lognormal", "exponential")) try_say(paste0("interval-", dist), function() {
    low <- ifelse(d$lower == 0, NA, d$lower)
    fit <- survreg(Surv(low, d$upper, type = "interval2") ~ x + z, d, dist = dist, weights = d$weight, cluster = d$cluster, control = survreg.control(rel.tolerance = 1e-12, maxiter = 200))
    if (any(abs(coef(fit)) > 20)) return(NULL)
    # the sandwich of the weighted scores by numerical derivatives: survreg 3.5-3 prints another where a scale is estimated
    scores <- function(p) {
      place <- p[1] + p[2] * d$x + p[3] * d$z; scale <- if (dist == "exponential") 1 else exp(p[4])
      law <- if (dist == "exponential") "weibull" else dist
      before <- function(t) ifelse(is.na(t), 1, ifelse(t <= 0, 0, psurvreg(pmax(t, 1e-9), place, scale, law)))
      exact <- !is.na(d$upper) & d$lower == d$upper
      ifelse(exact, log(dsurvreg(pmax(d$lower, 1e-9), place, scale, law)), log(before(d$upper) - before(d$lower)))
    }
    p <- c(coef(fit), if (dist != "exponential") log(fit$scale))
    U <- sapply(seq_along(p), function(k) { e <- replace(0 * p, k, 1e-5); (scores(p + e) - scores(p - e)) / 2e-5 })
    V <- fit$naive.var
    c(coef(fit), fit$scale, sqrt(diag(V %*% crossprod(rowsum(d$weight * U, d$cluster)) %*% V))[1:3], fit$loglik[2])
  })
  try_say("logistic", function() {
    fit <- glm(cause == 1 ~ x + z, quasibinomial, d, weights = d$weight, control = glm.control(epsilon = 1e-14, maxit = 100))
    if (any(abs(coef(fit)) > 8)) return(NULL)
    X <- model.matrix(fit); p <- fitted(fit); V <- solve(crossprod(X, X * (d$weight * p * (1 - p))))
    U <- rowsum(X * (d$weight * ((d$cause == 1) - p)), d$cluster)
    c(coef(fit), sqrt(diag(V %*% crossprod(U) %*% V)))
  })
}

histories <- function(d) {
  d$event <- factor(d$to, 0:3, c("censored", "s1", "s2", "s3"))
  d$state <- factor(d$from, 1:3, c("s1", "s2", "s3"))
  for (kind in c("plain", "weighted")) try_say(paste0("states-", kind), function() {
    fitted <- function(weights) survfit(Surv(start, stop, event) ~ 1, d, id = subject, istate = state, weights = weights)
    weights <- if (kind == "plain") rep(1, nrow(d)) else d$weight
    fit <- fitted(weights)
    order <- match(c("s1", "s2", "s3"), fit$states)
    # R starts from the shares just before the first event, we from those at the earliest time
    first <- d$start == min(d$start)
    shares <- tapply(weights[first], factor(d$from[first], 1:3), sum, default = 0)
    if (max(abs(shares / sum(shares) - fit$p0[order])) > 1e-9) return(NULL)
    values <- function(weights) {
      fit <- fitted(weights)
      c(apply(at(fit)$pstate[, order], 2, function(v) reached(fit, v)), summary(fit, rmean = 9)$table[order, "rmean"])
    }
    # the jackknife by moving the weights of each subject: R 3.5-3 has another error where weights are not all alike
    moved <- function(subject, by) values(weights * ifelse(d$subject == subject, 1 + by, 1))
    slopes <- sapply(unique(d$subject), function(subject) (moved(subject, 1e-4) - moved(subject, -1e-4)) / 2e-4)
    c(values(weights), sqrt(rowSums(slopes^2)))
  })
}

for (file in list.files(folder, "^rows.*csv$")) { table <- sub(".csv", "", file); follow_up(read.csv(file.path(folder, file))) }
for (file in list.files(folder, "^moves.*csv$")) { table <- sub(".csv", "", file); histories(read.csv(file.path(folder, file))) }
