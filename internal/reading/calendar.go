package reading

func (r *reader) calendar(g *grid) []passage  { return nil }
func (r *reader) nestLists(g *grid) []passage { return nil }
