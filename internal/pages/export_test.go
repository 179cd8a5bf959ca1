package pages

// Table lists the method and path of every route, so that a test which goes through all of them misses none.
func Table() [][2]string {
	var table [][2]string
	for _, r := range (&server{}).routes() {
		table = append(table, [2]string{r.method, r.path})
	}
	return table
}
