suppressMessages(library(lme4)); options(digits=12)
d <- as.data.frame(cbpp)
h <- aggregate(cbind(incidence,size)~herd, d, sum)
m <- glmer(cbind(incidence,size-incidence)~1+(1|herd), h, family=binomial("cloglog"), control=glmerControl(tolPwrss=1e-12))
cat("one\n", fixef(m), sqrt(unlist(VarCorr(m))), "\n"); r <- ranef(m, condVar=TRUE)$herd
print(data.frame(h, mode=fixef(m)+r[,1], sd=sqrt(attr(r,"postVar")[1,1,])))
d$u <- interaction(d$herd,d$period,drop=TRUE)
m <- glmer(cbind(incidence,size-incidence)~period+(1|herd)+(1|u), d, family=binomial("cloglog"), control=glmerControl(tolPwrss=1e-12))
print(fixef(m)); print(sqrt(unlist(VarCorr(m))))
re <- ranef(m); eta <- model.matrix(m)%*%fixef(m); d$mean <- as.numeric(eta); d$mode <- d$mean + re$herd[as.character(d$herd),1] + re$u[as.character(d$u),1]
print(d[d$herd %in% c(1,2,4,7),])
