# Computes with R what the rooms stats and study have answered and compares.
#
# usage: Rscript outside_check.R FILE    one line per difference; exit status 1 when there is one
# Lines: word, count of answers, answers, then what was asked; see outside_test.cpp.

noncentral_end <- function(t, dof, below) {
  # The shift at which the share `below` of a non-central t lies under t.
  # pt warns when it cannot reach all digits; what it reached is held to 1e-7 below.
  suppressWarnings(
    uniroot(function(shift) pt(t, dof, shift) - below, c(t - 30, t + 30), tol = 1e-11)$root)
}

two_sided_factor <- function(n, coverage, confidence) {
  # ISO 16269-6, exact: over the places of the mean, the chance that the spread is wide enough.
  half_width <- function(x) uniroot(function(r) pnorm(x + r) - pnorm(x - r) - coverage,
                                    c(0, abs(x) + 10), tol = 1e-12)$root
  sure <- function(k) {
    inside <- function(z) sapply(z, function(one) {
      r <- half_width(one / sqrt(n))
      dnorm(one) * pchisq((n - 1) * r^2 / k^2, n - 1, lower.tail = FALSE)
    })
    2 * integrate(inside, 0, 8, rel.tol = 1e-9)$value
  }
  uniroot(function(k) sure(k) - confidence, c(0.1, 500), tol = 1e-9)$root
}

range_factors <- function(n) {
  # Moments of the range of n normal values by Tukey's distribution with a known spread.
  beyond <- function(w) ptukey(w, n, Inf, lower.tail = FALSE)
  first <- integrate(beyond, 0, 20, rel.tol = 1e-10)$value
  second <- integrate(function(w) 2 * w * beyond(w), 0, 20, rel.tol = 1e-10)$value
  c(first, sqrt(second - first^2))
}

groups_of <- function(x) {
  y <- c(); g <- c(); k <- 0
  while (length(x) > 0) {
    n <- x[1]; k <- k + 1
    y <- c(y, x[2:(n + 1)]); g <- c(g, rep(k, n))
    x <- x[-(1:(n + 1))]
  }
  list(y = y, g = factor(g))
}

column <- function(table, row, name) table[trimws(rownames(table)) == row, name]

expected <- function(word, x) {
  if (word == "one") {
    d <- groups_of(x)
    t <- anova(lm(y ~ g, d))
    return(c(t[["Sum Sq"]], t[["Df"]], t[["F value"]][1], t[["Pr(>F)"]][1]))
  }
  if (word == "crossed") {
    a <- x[1]; b <- x[2]; r <- x[3]
    d <- data.frame(y = x[-(1:3)], A = gl(a, b * r), B = gl(b, r, a * b * r))
    both <- anova(lm(y ~ A * B, d))
    # Factors are random: their F is against the interaction, which is the stratum of the cells.
    cells <- summary(aov(y ~ A + B + Error(A:B), d))[["Error: A:B"]][[1]]
    pooled <- anova(lm(y ~ A + B, d))
    return(c(both[["Sum Sq"]], both[["Df"]], column(cells, "A", "Pr(>F)"),
             column(cells, "B", "Pr(>F)"), both[["Pr(>F)"]][3], pooled[["F value"]][1:2],
             pooled[["Pr(>F)"]][1:2]))
  }
  if (word == "nested" || word == "nested_even") {
    d <- as.data.frame(matrix(x, ncol = 3, byrow = TRUE))
    d$A <- factor(d$V1); d$B <- factor(paste(d$V1, d$V2))
    t <- anova(lm(V3 ~ A + B, d))
    # What an even table has besides, its variances, is for statsmodels' likelihood.
    return(c(t[["Sum Sq"]], t[["Df"]]))
  }
  if (word == "spread_index")
    return(x[4] * sqrt(qchisq(c(.025, .975), x[1]) / x[1]) * (x[3] - x[2]) / 6 / x[4]^2)
  if (word == "one_limit") {
    t <- x[2] * sqrt(x[1])
    ends <- c(noncentral_end(t, x[1] - 1, .975), noncentral_end(t, x[1] - 1, .025))
    return(ends / 3 / sqrt(x[1]))
  }
  if (word == "factor_one")
    return(suppressWarnings(qt(x[3], x[1] - 1, qnorm(x[2]) * sqrt(x[1]))) / sqrt(x[1]))
  if (word == "factor_two") return(two_sided_factor(x[1], x[2], x[3]))
  if (word == "range") return(range_factors(x[1]))
  if (word == "size") {
    n <- x[3] + 1
    while (pbinom(x[3], n, 1 - x[2]) > 1 - x[1]) n <- n + 1
    return(n)
  }
  if (word == "share") return(binom.test(x[1], x[2], conf.level = x[3])$conf.int[1:2])
  if (word == "holm") return(p.adjust(x, "holm"))
  if (word == "plot") return(qnorm(ppoints(length(x), a = 3 / 8)))
  if (word == "robust") return(c(quantile(x[-1], x[1], type = 7), median(x[-1]),
             mad(x[-1], constant = 1 / qnorm(0.75))))
  if (word == "kappa_two" || word == "kappa_many" || word == "normality") return(NULL)
  if (word == "directions") return(NULL)
  n <- x[1]
  a <- x[2:(n + 1)]; b <- x[-(1:(n + 1))]
  if (word == "two") {
    w <- t.test(b, a)
    f <- var.test(b, a)
    return(c(w$p.value, w$conf.int[1:2], w$parameter, sqrt(f$conf.int[1:2])))
  }
  if (word == "equivalence") {
    margin <- b[1]; b <- b[-1]
    w <- t.test(b, a, conf.level = .9)
    p <- max(t.test(b, a, mu = -margin, alternative = "greater")$p.value,
             t.test(b, a, mu = margin, alternative = "less")$p.value)
    return(c(p, w$conf.int[1:2]))
  }
  if (word == "trend") {
    fit <- lm(b ~ a)
    return(c(coef(fit)[2:1], confint(fit)[2, ], summary(fit)$coefficients[2, 4],
             summary(fit)$r.squared))
  }
  if (word == "bias") {
    t <- t.test(a)
    return(c(mean(a), sd(a), t$conf.int[1:2], t$p.value))
  }
  stop(word)
}

# Searches and quadratures that R itself ends early.
ends_early <- c(one_limit = 1e-7, factor_one = 1e-7, factor_two = 1e-6, range = 1e-7)

wrong <- 0
compared <- 0
for (line in readLines(commandArgs(TRUE)[1])) {
  fields <- strsplit(line, " ")[[1]]
  numbers <- as.numeric(fields[-1])
  answers <- numbers[1 + seq_len(numbers[1])]
  found <- expected(fields[1], numbers[-(1:(1 + numbers[1]))])
  if (is.null(found)) next
  limit <- if (fields[1] %in% names(ends_early)) ends_early[fields[1]] else 1e-8
  for (i in seq_along(found)) {
    if (is.na(found[i])) next
    compared <- compared + 1
    # p values of nothing in double precision are told apart by their size alone.
    if (!isTRUE(abs(answers[i] - found[i]) <= limit * abs(found[i]) + 1e-12)) {
      wrong <- wrong + 1
      cat(sprintf("%s, answer %d: %.12g, R has %.12g\n", fields[1], i, answers[i], found[i]))
    }
  }
}
cat(sprintf("R: %d comparisons\n", compared))
if (compared < 1200) { cat("too few\n"); wrong <- wrong + 1 }
quit(status = if (wrong > 0) 1 else 0)
