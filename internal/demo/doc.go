// Package demo invents a cooperative: forty ranches of thirty-four owners on a northern grassland, where simulated nests
// sit in bunchgrass, soapweed yucca and sand sagebrush.
//
// Every name, number and sheet in it is made up from a seed; none is anybody's ranch. Because the rates behind the
// numbers are known (Truth), tests can hold what the service computes against them. What goes in as truth is what
// statistics.md asks the estimates to cope with: a daily hazard that differs by substrate, season and site, with luck
// shared by the nests of a ranch and of a transect; uneven check days; nests lost from view; ends that no animal brought.
package demo
