# The Laplace likelihood of all intervals of nested.csv, those across day 14 included, written out with full matrices and general optimisers:
# another road to the same maximum. P(lost) = 1 - exp(-exp(eta)(d1 + d2 exp(gamma))).
options(digits = 10, width = 200)
x <- read.csv("nested.csv"); x$season <- factor(x$season)
d1 <- pmax(pmin(x$to, 14) - x$from, 0); d2 <- x$to - x$from - d1; y <- 1 - x$intact
X <- model.matrix(~ substrate + season + site_type, x)
cat(sum(d1 > 0 & d2 > 0), "of", nrow(x), "intervals cross day 14\n")
fit <- function(Z, sds, start) { # Z: list of indicator matrices
  if (length(Z) == 0) Z0 <- matrix(0, nrow(x), 1)
  k <- length(Z); q <- ncol(X)
  ZZ <- if (k) do.call(cbind, Z) else Z0; widths <- as.integer(sapply(Z, ncol))
  u <- numeric(ncol(ZZ))
  value <- function(p) {
    s <- rep(p[q + 1 + seq_len(k)], widths)
    A <- if (k) t(t(ZZ)*s) else ZZ
    off <- log(d1 + d2*exp(p[q + 1])) + drop(X %*% p[1:q])
    for (it in 1:100) { # Fisher scoring for the modes
      H <- exp(off + drop(A %*% u)); rho <- H/expm1(H)
      g <- drop(t(A) %*% (y*rho - (1 - y)*H)) - u
      M <- t(A) %*% (A*(H*rho)) + diag(length(u))
      step <- solve(M, g); u <- u + step/max(1, max(abs(step)))
      if (max(abs(step)) < 1e-12) break
    }
    u <<- u
    H <- exp(off + drop(A %*% u)); rho <- H/expm1(H)
    M <- t(A) %*% (A*(H*rho)) + diag(length(u))
    -sum(ifelse(y == 1, log(-expm1(-H)), -H)) + sum(u^2)/2 + as.numeric(determinant(M)$modulus)/2
  }
  if (k == 0) value <- function(p) { H <- exp(drop(X %*% p[1:q]))*(d1 + d2*exp(p[q + 1])); -sum(ifelse(y == 1, log(-expm1(-H)), -H)) }
  p <- c(start, sds)
  for (i in 1:3) p <- optim(p, value, method = "BFGS", control = list(reltol = 1e-15, maxit = 500, ndeps = rep(1e-4, length(p))))$par
  h <- optimHess(p, value, control = list(ndeps = rep(1e-3, length(p))))
  names(p) <- c(colnames(X), "late", names(sds))
  print(rbind(p, se = sqrt(diag(solve(h))))); print(c(loglik = -value(p))); invisible(p)
}
cat("no random effects\n"); p <- fit(list(), NULL, c(-3.5, rep(0, ncol(X))))
cat("ranch and transect\n")
fit(list(model.matrix(~ 0 + factor(ranch), x), model.matrix(~ 0 + transect, x)), c(ranch = .4, transect = .4), p)
