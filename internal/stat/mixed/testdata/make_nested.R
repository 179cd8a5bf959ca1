# Invents nested.csv: 8 ranches, 3 seasons, 4 transects each, 8 nests, visited about day 14 and 28. Run once.
set.seed(41)
out <- NULL
u <- c(-.8, .5, .3, -.6, .7, -.2, .45, -.5); w <- c(.8, -.7, .5, .7, -.8, -.4, .6, -.7)
for (r in 1:8) for (s in 2023:2025) for (g in 1:4) {
  v <- rnorm(1, 0, .45)
  for (j in 1:8) {
    sub <- c("bunchgrass", "shrub", "yucca")[1 + (j %% 3)]
    eta <- log(.03) + c(bunchgrass = 0, shrub = -.25, yucca = -.6)[[sub]] + c(0, .3, -.1)[s - 2022] + c(0, .2)[1 + r %% 2] + u[r] + w[r]*(s - 2024) + v
    h1 <- exp(eta); h2 <- exp(eta - .35)
    v1 <- sample(c(12, 13, 14, 14, 14, 14, 15, 16), 1); v2 <- sample(c(26, 27, 28, 28, 29, 31), 1)
    e <- rexp(1)
    t <- if (e < 14*h1) e/h1 else 14 + (e - 14*h1)/h2
    a <- 0
    for (b in c(v1, v2)) {
      out <- rbind(out, data.frame(ranch = r, season = s, transect = paste0(r, "-", s, "-", g), substrate = sub, site_type = c("sand", "clay")[1 + r %% 2], from = a, to = b, intact = as.integer(t > b)))
      if (t <= b) break
      a <- b
    }
  }
}
write.csv(out, "nested.csv", row.names = FALSE, quote = FALSE)
cat(nrow(out), "intervals,", sum(1 - out$intact), "losses\n")
