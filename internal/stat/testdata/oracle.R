# Oracle for survival and standard, by other means: the likelihood is written down once, maximised by optim() on log h,
# differentiated numerically, and the sandwich put together from the numbers. R 4.2.2, base packages only.
# Run in this folder: Rscript oracle.R > oracle.out
options(digits = 12)
d <- read.csv("intervals.csv")
n <- do.call(rbind, lapply(split(d, d$nest), function(x) {
  x <- x[order(x$visit), ]; t <- cumsum(x$days); ok <- x$intact == 1
  data.frame(transect = x$transect[1], year = x$year[1], substrate = x$substrate[1],
    a = if (any(ok)) max(t[ok]) else 0, b = if (all(ok)) NA else t[which(!ok)[1]]) }))
H <- function(t, h) h[1]*pmin(t, 14) + h[2]*pmax(t - 14, 0)
ll <- function(th, x) { h <- exp(th); ifelse(is.na(x$b), -H(x$a, h), log(exp(-H(x$a, h)) - exp(-H(ifelse(is.na(x$b), 99, x$b), h)))) }
S28 <- function(th) exp(-14*sum(exp(th)))
grad <- function(f, th, e = 1e-5) sapply(seq_along(th), function(k) { u <- v <- th; u[k] <- u[k] + e; v[k] <- v[k] - e; (f(u) - f(v))/(2*e) })
fit <- function(x) {
  f <- function(th) -sum(ll(th, x))
  th <- c(-3.5, -3.5)
  for (i in 1:5) th <- optim(th, f, method = "BFGS", control = list(reltol = 1e-16, maxit = 1000))$par
  hess <- optimHess(th, f, control = list(ndeps = c(1e-4, 1e-4)))
  g <- sort(unique(x$transect))
  u <- t(sapply(g, function(k) grad(function(t) sum(ll(t, x[x$transect == k, ])), th)))
  list(th = th, A = hess, u = u, g = g, psi = drop(u %*% solve(hess) %*% grad(S28, th)), S = S28(th), ll = -f(th),
       model = drop(grad(S28, th) %*% solve(hess) %*% grad(S28, th)))
}
ends <- function(S, v, df) { u <- log(-log(S)); e <- qt(.975, df)*sqrt(v)/(S*abs(log(S))); c(exp(-exp(u + e)), exp(-exp(u - e))) }
show <- function(label, S, v, df, model) cat(sprintf("%s,%.10f,%.10f,%.10f,%.10f,%.8f\n", label, S, sqrt(v), ends(S, v, df)[1], ends(S, v, df)[2], v/model))
cat("label,day28,se,low,high,design_effect\n")
for (y in c(2022, 2023)) {
  psi <- matrix(0, 12, 2); S <- c(); m <- 0; j <- 0
  for (s in c("grass", "pear")) {
    j <- j + 1; r <- fit(n[n$year == y & n$substrate == s, ]); G <- length(r$g)
    show(paste(s, y), r$S, G/(G - 1)*sum(r$psi^2), G - 1, r$model)
    psi[match(r$g, 1:12), j] <- r$psi; S[j] <- r$S; m <- m + r$model/4
    cat(sprintf("rates %s %d,%.10f,%.10f,loglik,%.9f,\n", s, y, exp(-exp(r$th[1])), exp(-exp(r$th[2])), r$ll))
  }
  show(paste("half and half", y), mean(S), 12/11*sum((psi %*% c(.5, .5))^2), 11, m)
}
