# Reference fits with lme4. tolPwrss is set far below its default of 1e-7, at which lme4's own answer is off in the fourth digit.
suppressMessages(library(lme4))
options(digits = 10, width = 200)
control <- glmerControl(optimizer = "bobyqa", tolPwrss = 1e-13, optCtrl = list(rhoend = 1e-10, maxfun = 1e5))
show <- function(m) {
  print(rbind(estimate = fixef(m), se = sqrt(diag(as.matrix(vcov(m))))))
  print(c(sd = getME(m, "theta"), loglik = as.numeric(logLik(m))))
}
cat("cbpp, logit\n")
show(glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), cbpp, binomial, control = control))
cat("cbpp, cloglog\n")
show(glmer(cbind(incidence, size - incidence) ~ period + (1 | herd), cbpp, binomial("cloglog"), control = control))
cat("intervals.csv\n")
x <- read.csv("intervals.csv"); x$year <- factor(x$year); x$lost <- 1 - x$intact
show(glmer(lost ~ substrate + year + offset(log(days)) + (1 | transect), x, binomial("cloglog"), control = control))
cat("nested.csv, intervals on one side of day 14\n")
x <- read.csv("nested.csv"); x <- x[x$to <= 14 | x$from >= 14, ]
x$days <- x$to - x$from; x$late <- as.integer(x$from >= 14); x$season <- factor(x$season); x$lost <- 1 - x$intact
cat(nrow(x), "intervals\n")
m <- glmer(lost ~ substrate + late + season + site_type + offset(log(days)) + (1 | ranch/transect), x, binomial("cloglog"), control = control)
show(m)
r <- ranef(m, condVar = TRUE)$ranch
print(rbind(effect = r[, 1], se = sqrt(as.numeric(attr(r, "postVar")))))
cat("nested.csv, season as a number, slope by ranch\n")
x$year <- as.numeric(as.character(x$season)) - 2024
m <- glmer(lost ~ substrate + late + year + offset(log(days)) + (1 | ranch) + (0 + year | ranch) + (1 | transect), x, binomial("cloglog"), control = control)
show(m)
