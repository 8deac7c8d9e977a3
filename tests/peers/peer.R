# Times methods of one R library on a table in memory: Rscript peer.R FILE LIBRARY METHOD,METHOD. Prints a line of JSON for each.
arguments <- commandArgs(TRUE)
library(survival)
if (arguments[2] == "cmprsk") suppressWarnings(library(cmprsk))
d <- read.csv(arguments[1], colClasses = "numeric")
day <- 180
ten <- grep("^x", names(d), value = TRUE)
x <- head(ten, 4)
terms <- paste(x, collapse = " + ")
cox <- function(outcome, covariates, ...) coxph(formula(paste(outcome, "~", paste(covariates, collapse = " + "))), d, ...)
d$row <- seq_len(nrow(d))
d$state <- factor(d$cause, 0:2, c("none", "first", "second"))
at_day <- function(fit, column) tail(fit[[column]][fit$time <= day], 1)

methods <- list(
  survival = list(
    "kaplan-meier" = function() at_day(survfit(Surv(exit, cause > 0) ~ 1, d, conf.type = "log-log"), "surv"),
    "kaplan-meier-by-cluster" = function() {
      fit <- survfit(Surv(exit, cause > 0) ~ 1, d, cluster = cluster, conf.type = "log-log")
      at_day(fit, "std.err") * if (fit$logse) at_day(fit, "surv") else 1
    },
    "nelson-aalen" = function() at_day(survfit(Surv(exit, cause > 0) ~ 1, d, stype = 2, ctype = 1), "cumhaz"),
    "log-rank" = function() survdiff(Surv(exit, cause > 0) ~ group, d)$chisq,
    "cumulative-incidence" = function() {
      fit <- survfit(Surv(exit, state) ~ 1, d)
      tail(fit$pstate[fit$time <= day, 2], 1)
    },
    "cumulative-incidence-by-cluster" = function() {
      # survival 3.5-3 leaves the cluster out of the standard error it prints, so its influences are summed here
      fit <- survfit(Surv(exit, state) ~ 1, d, id = row, influence = TRUE)
      place <- 1 + max(which(fit$time <= day))
      sqrt(sum(rowsum(fit$influence.pstate[, place, 2], d$cluster)^2))
    },
    "cox" = function() coef(cox("Surv(exit, cause == 1)", x))[[1]],
    "cox-by-cluster" = function() sqrt(cox("Surv(exit, cause == 1)", x, cluster = d$cluster)$var[1, 1]),
    "cox-with-delayed-entry" = function() coef(cox("Surv(entry, exit, cause == 1)", x))[[1]],
    "cox-of-ten" = function() coef(cox("Surv(exit, cause == 1)", ten))[[1]],
    "cox-of-ten-by-cluster" = function() sqrt(cox("Surv(exit, cause == 1)", ten, cluster = d$cluster)$var[1, 1]),
    "cox-of-ten-with-delayed-entry" = function() coef(cox("Surv(entry, exit, cause == 1)", ten))[[1]],
    "proportional-hazards-test" = function() {
      fit <- cox("Surv(exit, cause == 1)", x)
      tail(cox.zph(fit, transform = "km")$table[, "chisq"], 1)
    },
    "concordance" = function() concordance(Surv(exit, cause == 1) ~ x1, d, reverse = TRUE)$concordance,
    "bootstrap-of-a-median" = function() {
      medians <- replicate(200, {
        drawn <- d[sample.int(nrow(d), replace = TRUE), c("exit", "cause")]
        quantile(survfit(Surv(exit, cause > 0) ~ 1, drawn, se.fit = FALSE), 0.5, conf.int = FALSE)
      })
      quantile(survfit(Surv(exit, cause > 0) ~ 1, d), 0.5, conf.int = FALSE)
    },
    "fine-gray" = function() {
      weighted <- finegray(formula(paste("Surv(exit, state) ~", terms)), d, etype = "first")
      fit <- coxph(formula(paste("Surv(fgstart, fgstop, fgstatus) ~", terms)), weighted, weights = fgwt, ties = "breslow")
      coef(fit)[[1]]
    },
    "interval-regression" = function() {
      d$lower[d$lower == 0] <- NA
      coef(survreg(formula(paste("Surv(lower, upper, type = 'interval2') ~", terms)), d))[[2]]
    },
    "npmle" = function() {
      survfit(Surv(lower, upper, type = "interval2") ~ 1, d)
      NA
    }
  ),
  stats = list(
    "logistic" = function() coef(glm(formula(paste("cause == 1 ~", terms)), binomial, d))[[2]]
  ),
  cmprsk = list(
    "cumulative-incidence" = function() timepoints(cuminc(d$exit, d$cause), day)$est[1, 1],
    "gray" = function() cuminc(d$exit, d$cause, d$group)$Tests[1, "stat"],
    "fine-gray" = function() crr(d$exit, d$cause, as.matrix(d[x]))$coef[[1]]
  )
)

for (method in strsplit(arguments[3], ",")[[1]]) {
  run <- methods[[arguments[2]]][[method]]
  seconds <- Inf
  begun <- proc.time()[["elapsed"]]
  # the best of three to twenty, fewer when they are long
  for (turn in 1:20) {
    start <- as.numeric(Sys.time())
    figure <- run()
    seconds <- min(seconds, as.numeric(Sys.time()) - start)
    spent <- proc.time()[["elapsed"]] - begun
    if (spent > 5 || (turn >= 3 && spent > 1)) break
  }
  shown <- if (is.na(figure)) "null" else sprintf("%.12g", figure)
  cat(sprintf('{"method": "%s", "seconds": %.6g, "figure": %s}\n', method, seconds, shown))
}
