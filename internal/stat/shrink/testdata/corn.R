# Inputs of TestCornOfIowa, from the data sets of R package sae 1.3 (cornsoybean, cornsoybeanmeans). Run: Rscript corn.R FOLDER-OF-RDA
suppressMessages(library(lme4))
dir <- commandArgs(TRUE)[1]
load(file.path(dir, "cornsoybean.rda")); load(file.path(dir, "cornsoybeanmeans.rda"))
d <- cornsoybean[-33, ]
m <- lmer(CornHec ~ CornPix + SoyBeansPix + (1 | County), d, REML = TRUE)
v <- as.data.frame(VarCorr(m))$vcov; print(v, digits = 10)
X <- model.matrix(m); V <- as.matrix(vcov(m)); b <- fixef(m)
for (i in 1:12) {
  k <- d$County == i; n <- sum(k); own <- colMeans(X[k, , drop = FALSE])
  at <- c(1, as.numeric(cornsoybeanmeans[i, c("MeanCornPixPerSeg", "MeanSoyBeansPixPerSeg")]))
  g <- v[1] / (v[1] + v[2] / n); off <- mean(d$CornHec[k]) - sum(own * b); w <- at - g * own
  cat(i, n, sprintf("%.6f", c(sum(at * b), off, sum(at * b) + g * off, as.numeric(t(w) %*% V %*% w))), "\n")
}
Z <- model.matrix(~ 0 + factor(County), d); S <- solve(v[1] * Z %*% t(Z) + v[2] * diag(nrow(d)))
P <- S - S %*% X %*% solve(t(X) %*% S %*% X) %*% t(X) %*% S; A <- list(Z %*% t(Z), diag(nrow(d)))
print(solve(outer(1:2, 1:2, Vectorize(function(i, j) .5 * sum(diag(P %*% A[[i]] %*% P %*% A[[j]]))))), digits = 10)
