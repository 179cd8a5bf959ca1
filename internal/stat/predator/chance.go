package predator

// Chance returns P(choice | animal) for the i-th feature of the key, by the orders of Features, Choices and Predators.
func (k *Key) Chance(i, animal, choice int) float64 {
	row := k.counts[i][animal]
	return row[choice] / sum(row)
}
