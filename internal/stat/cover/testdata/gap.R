# Invents gap.csv (with "make" on the command line) and fits the gap model to it with lme4: substrate by log density, two nested random
# intercepts. Fieller's interval is worked out here from the fit, by itself.
suppressMessages(library(lme4))
options(digits = 10, width = 160)
if (length(commandArgs(TRUE))) {
  set.seed(7)
  out <- NULL
  for (r in 1:12) {
    u <- rnorm(1, 0, .3)
    for (s in 1:3) {
      d <- round(exp(runif(1, log(80), log(700))))
      for (year in 2024:2025) for (g in 1:2) {
        v <- rnorm(1, 0, .35)
        for (j in 1:12) {
          sub <- c("bunchgrass", "yucca")[1 + j %% 2]
          h <- exp(-3.5 + .15*(year == 2025) + (sub == "bunchgrass")*(-.9)*(log(d) - log(300)) - .2*(log(d) - log(300)) + u + v)
          from <- 0
          for (to in c(14, 28)) {
            lost <- rexp(1) < 14*h
            out <- rbind(out, data.frame(ranch = r, transect = paste(s, year, g, sep = "-"), substrate = sub, season = year, density = d, from = from, to = to, intact = as.integer(!lost)))
            if (lost) break
            from <- to; h <- .75*h
          }
        }
      }
    }
  }
  write.csv(out, "gap.csv", row.names = FALSE, quote = FALSE)
}
x <- read.csv("gap.csv"); x$season <- factor(x$season); x$late <- as.integer(x$from == 14); x$lost <- 1 - x$intact; x$l <- log(x$density)
x$substrate <- relevel(factor(x$substrate), "yucca") # so that the coefficients are the gap bunchgrass less yucca
cat(nrow(x), "intervals,", sum(x$lost), "losses, densities", range(x$density), "\n")
fit <- function(centre) { x$c <- x$l - centre
  glmer(lost ~ substrate*c + late + season + offset(log(to - from)) + (1 | ranch/transect), x, binomial("cloglog"),
    control = glmerControl(optimizer = "bobyqa", tolPwrss = 1e-13, optCtrl = list(rhoend = 1e-10, maxfun = 1e5))) }
m <- fit(log(300))
k <- c("substratebunchgrass", "substratebunchgrass:c")
b <- fixef(m)[k]; V <- as.matrix(vcov(m))[k, k]
cat("gap at 300, se; slope, se:", b[1], sqrt(V[1, 1]), b[2], sqrt(V[2, 2]), "\n")
f <- function(t) (b[1] + b[2]*t)^2 - qnorm(.975)^2*(V[1, 1] + 2*t*V[1, 2] + t^2*V[2, 2])
t0 <- -b[1]/b[2]
cat("crossing", 300*exp(t0), "Fieller", 300*exp(uniroot(f, c(-5, t0), tol = 1e-12)$root), 300*exp(uniroot(f, c(t0, 5), tol = 1e-12)$root), "\n")
cat("loglik", logLik(m), "sds", getME(m, "theta"), "\n")
