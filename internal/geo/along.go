package geo

import "math"

// earth is the mean radius in feet: 6 371 008.8 m (IUGG; Moritz 2000, "Geodetic Reference System 1980", Journal of Geodesy
// 74:128-133, R₁) at 0.3048 m a foot. A sphere is off by a few parts in a thousand, a pace on a mile.
const earth = 6371008.8 / 0.3048

// Along returns where one comes who walks feet from a place on a bearing in degrees clockwise from true north: the direct
// problem on the sphere (Snyder 1987, Map Projections, USGS Professional Paper 1395, eq. 5-5 and 5-6).
func Along(from Position, bearing, feet float64) Position {
	az, c, φ := bearing*math.Pi/180, feet/earth, from[1]*math.Pi/180
	lat := math.Asin(math.Sin(φ)*math.Cos(c) + math.Cos(φ)*math.Sin(c)*math.Cos(az))
	lon := math.Atan2(math.Sin(c)*math.Sin(az), math.Cos(φ)*math.Cos(c)-math.Sin(φ)*math.Sin(c)*math.Cos(az))
	return Position{math.Mod(from[0]+lon*180/math.Pi+540, 360) - 180, lat * 180 / math.Pi}
}

// Feet returns the distance between two places (Snyder 1987, eq. 5-3a).
func Feet(a, b Position) float64 {
	φ1, φ2 := a[1]*math.Pi/180, b[1]*math.Pi/180
	dφ, dλ := (φ2-φ1)/2, (b[0]-a[0])*math.Pi/360
	h := math.Sin(dφ)*math.Sin(dφ) + math.Cos(φ1)*math.Cos(φ2)*math.Sin(dλ)*math.Sin(dλ)
	return 2 * earth * math.Asin(math.Sqrt(math.Min(1, h)))
}
