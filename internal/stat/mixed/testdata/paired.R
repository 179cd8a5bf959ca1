# Fits the regional model with lme4 to the file named on the command line and prints what the benchmark compares, one number a line:
# seconds, log likelihood, ranch and transect standard deviation, then name, estimate and standard error of each effect.
suppressMessages(library(lme4))
args <- commandArgs(trailingOnly = TRUE)
x <- read.csv(args[1])
x$season <- factor(x$season)
started <- proc.time()[["elapsed"]]
m <- suppressWarnings(glmer(lost ~ substrate + late + season + site_type + offset(log(days)) + (1 | ranch/transect), x, binomial("cloglog"),
  control = glmerControl(optimizer = "bobyqa", tolPwrss = as.numeric(args[2]), optCtrl = list(maxfun = 1e5))))
seconds <- proc.time()[["elapsed"]] - started
sd <- getME(m, "theta")
v <- sqrt(diag(as.matrix(vcov(m))))
cat(formatC(c(seconds, as.numeric(logLik(m)), sd[["ranch.(Intercept)"]], sd[["transect:ranch.(Intercept)"]]), digits = 12, format = "g"), sep = "\n")
cat(paste(names(fixef(m)), formatC(fixef(m), digits = 12, format = "g"), formatC(v, digits = 12, format = "g")), sep = "\n")
