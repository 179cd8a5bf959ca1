// Package mixed fits the regional model: the survival of nests on all ranches together, with what ranches and
// transects have in common taken into account.
//
// # The model
//
// Nest i on transect g of ranch r is seen at day a and again at day b after setting. With d1 and d2 the days of
// that interval before and after day 14,
//
//	P(lost) = 1 − exp(−H),   H = exp(x'β + u_r + v_g) · (d1 + d2·e^γ)
//
// where x holds the covariates, γ is the logarithm of the hazard ratio of the late period to the early one, and
// u_r ~ N(0, σ_r²), v_g ~ N(0, σ_t²) are what ranch r and transect g share. For an interval on one side of day 14
// this is a binomial model with complementary log-log link and offset log d (Prentice and Gloeckler 1978,
// Biometrics 34:57-67). An interval across day 14 gets both hazards, each for its own days; nobody has to guess in
// which period the nest was lost. The two hazards share every effect but γ.
//
// A second ranch effect, a slope, may be asked for ([Model.Slope]), and a logit link ([Logit]) serves as the check
// against published analyses of grouped binary data.
//
// # The method
//
// Maximum likelihood, the integral over u and v by the Laplace approximation at their conditional modes (Breslow and
// Clayton 1993, J. Am. Stat. Assoc. 88:9-25; Bates et al. 2015, J. Stat. Softw. 67(1)). As in lme4's glmer the
// curvature in the determinant is the expected one, so that the two maximise the same function, and fixed effects and
// standard deviations are optimised together. Standard errors come from the second derivatives of that function in
// all its parameters, so those of the fixed effects carry the uncertainty of the standard deviations.
//
// Transects lie within ranches, so the matrix of second derivatives in (u, v) is an arrow: each transect is eliminated by
// one division, what remains of a ranch is one number (two with a slope). The likelihood and its exact gradient
// cost a few operations a row, whatever the number of ranches and transects.
//
// # What it will not do
//
// It never returns NaN and never panics on data. What the data cannot tell comes back marked as not known, with a
// note. Wrong indexes and lengths, which only a programmer can cause, panic.
package mixed
