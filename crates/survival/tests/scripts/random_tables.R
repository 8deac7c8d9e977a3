# Makes tests/reference/expected/random_tables.json: small random tables (invented) and what R says of them.
# Run in crates/survival: Rscript tests/scripts/random_tables.R    (made with R 4.2.2, survival 3.5-3, cmprsk 2.2-11)
suppressMessages({library(survival); library(cmprsk)})

json <- function(v) {
  if (is.list(v)) {
    parts <- vapply(v, json, "")
    if (is.null(names(v))) paste0("[", paste(parts, collapse = ","), "]")
    else paste0("{", paste0('"', names(v), '":', parts, collapse = ","), "}")
  } else {
    cells <- ifelse(is.finite(v), formatC(as.numeric(v), digits = 14, format = "g", flag = "#"), "null")
    cells <- sub("\\.0*$", "", sub("(\\.[0-9]*[1-9])0+$", "\\1", cells))
    paste0("[", paste(trimws(cells), collapse = ","), "]")
  }
}

follow_up <- function(n) {
  x <- round(rnorm(n), 2); z <- rbinom(n, 1, .5)
  first <- rexp(n, exp(.6 * x - .4 * z) / 20); second <- rexp(n, 1 / 30); end <- runif(n, 5, 50)
  exit <- ceiling(pmin(first, second, end))
  cause <- ifelse(first <= pmin(second, end), 1, ifelse(second <= end, 2, 0))
  entry <- ifelse(runif(n) < .4, floor(exit * runif(n) * .7), 0)
  visit <- sample(2:6, n, TRUE)
  lower <- ifelse(cause == 1, pmax(0, exit - visit), exit)
  upper <- ifelse(cause == 1, exit, NA)
  known <- cause == 1 & runif(n) < .2
  lower[known] <- exit[known]
  data.frame(entry, exit, cause, group = sample(1:3, n, TRUE), stratum = rbinom(n, 1, .4), cluster = sample(n %/% 3, n, TRUE),
             weight = sample(1:4, n, TRUE) / 2, x, z, lower, upper)
}

# each row moves to another of three states, or is censored; up to four rows a subject, states may come back
history <- function(n) {
  rows <- NULL
  for (subject in 1:n) {
    start <- if (runif(1) < .2) sample(1:4, 1) else 0
    from <- if (start == 0) 1 else sample(1:2, 1)
    for (turn in 1:4) {
      stop <- start + sample(1:8, 1)
      to <- if (runif(1) < .25) 0 else sample(setdiff(1:3, from), 1)
      rows <- rbind(rows, data.frame(subject, start, stop, from, to))
      if (to %in% c(0, 3)) break
      start <- stop; from <- to
    }
  }
  rows$weight <- (1:n %% 3 + 1)[rows$subject] / 2
  rows$cluster <- (1:n %/% 2)[rows$subject]
  rows
}

firth <- function(X, y) {
  b <- rep(0, ncol(X))
  for (turn in 1:500) {
    p <- as.vector(plogis(X %*% b)); W <- p * (1 - p)
    V <- solve(crossprod(X, X * W))
    h <- W * rowSums((X %*% V) * X)
    step <- as.vector(V %*% crossprod(X, y - p + h * (.5 - p)))
    b <- b + step * min(1, 1 / max(abs(step)))
    if (max(abs(step)) < 1e-13) break
  }
  b
}

table_of <- function(seed) {
  set.seed(seed)
  d <- follow_up(40 + 5 * seed)
  d$row <- seq_len(nrow(d))
  d$event <- d$cause > 0
  d$state <- factor(d$cause, 0:2)
  v <- list()
  for (cause in 1:2) for (rho in 0:1) {
    plain <- cuminc(d$exit, d$cause, d$group, rho = rho, cencode = 0)$Tests[cause, "stat"]
    strata <- cuminc(d$exit, d$cause, d$group, strata = d$stratum, rho = rho, cencode = 0)$Tests[cause, "stat"]
    v[[paste0("gray_", cause, "_", rho)]] <- c(plain, strata)
  }
  at <- c(5, 10, 15, 20)
  km <- summary(survfit(Surv(entry, exit, event) ~ 1, d, weights = weight, cluster = cluster), times = at)
  v$curve <- c(km$surv); v$curve_error <- c(km$std.err)
  for (group in 1:3) {
    t <- summary(survfit(Surv(exit, event) ~ 1, d[d$group == group, ]), rmean = 12)$table
    v[[paste0("mean_", group)]] <- c(t["rmean"], t["se(rmean)"])
  }
  # influences by row, summed within clusters here: survival 3.5-3 leaves clusters out of the error of an incidence
  place <- function(f) vapply(at, function(t) sum(f$time <= t), 0)
  aj <- survfit(Surv(entry, exit, state) ~ 1, d, weights = weight, id = row, influence = TRUE)
  v$incidence <- c(aj$pstate[place(aj), 2])
  u <- aj$influence.pstate[, 1 + place(aj), 2]
  v$incidence_error <- sqrt(colSums(rowsum(u * d$weight, d$cluster)^2))
  v$log_rank <- c(survdiff(Surv(exit, event) ~ group + strata(stratum), d)$chisq,
                  survdiff(Surv(exit, event) ~ group + strata(stratum), d, rho = 1)$chisq)
  for (ties in c("efron", "breslow")) {
    f <- coxph(Surv(entry, exit, cause == 1) ~ x + z + strata(stratum), d, weights = weight, cluster = cluster, ties = ties,
               control = coxph.control(eps = 1e-12, iter.max = 50))
    v[[paste0("cox_", ties)]] <- c(coef(f), sqrt(diag(f$naive.var)), sqrt(diag(f$var)), f$loglik)
  }
  d$l <- ifelse(d$lower == 0, NA, d$lower)
  for (law in c("weibull", "lognormal", "exponential")) {
    f <- survreg(Surv(l, upper, type = "interval2") ~ x + z, d, weights = weight, dist = law,
                 control = survreg.control(rel.tolerance = 1e-13, maxiter = 100))
    v[[paste0("interval_", law)]] <- c(coef(f), if (law != "exponential") log(f$scale), sqrt(diag(f$var)), f$loglik[2])
  }
  y <- as.numeric(d$cause == 1)
  f <- suppressWarnings(glm(y ~ x + z, binomial, d, weights = weight, control = glm.control(1e-14, 100)))
  v$logistic <- c(coef(f), sqrt(diag(vcov(f))), sum(d$weight * log(ifelse(y == 1, fitted(f), 1 - fitted(f)))))
  v$firth <- firth(cbind(1, d$x, d$z), y)

  m <- history(20 + seed)
  # censored at the end of a row that does not move
  m$what <- factor(m$to, 0:3)
  f <- survfit(Surv(start, stop, what) ~ 1, m, weights = weight, id = subject, istate = factor(m$from, 1:3), cluster = subject,
               influence = TRUE)
  states <- f$states
  v$occupancy <- c(t(f$pstate[place(f), order(states)]))
  v$occupancy_error <- c(t(f$std.err[place(f), order(states)]))
  m$counted <- as.numeric(m$to == 2)
  f <- survfit(Surv(start, stop, counted) ~ 1, m, id = subject, cluster = subject)
  v$mean_count <- f$cumhaz[place(f)]
  v$mean_count_error <- f$std.chaz[place(f)]
  keep <- c("entry", "exit", "cause", "group", "stratum", "cluster", "weight", "x", "z", "lower", "upper")
  list(seed = seed, rows = as.list(d[keep]), history = as.list(m[c("subject", "start", "stop", "from", "to", "weight")]),
       values = v)
}

tables <- lapply(1:12, table_of)
text <- paste0("[\n", paste(vapply(tables, json, ""), collapse = ",\n"), "\n]")
writeLines(text, "tests/reference/expected/random_tables.json")
