package pages

// Table lists the method and path of every route, so that a test which goes through all of them misses none.
func Table() [][2]string {
	var table [][2]string
	for _, r := range (&server{}).routes() {
		table = append(table, [2]string{r.method, r.path})
	}
	return table
}

// APITable lists the method, path and right of every route of the interface for programs.
func APITable() [][3]string {
	var table [][3]string
	for _, r := range (&server{}).apiRoutes() {
		table = append(table, [3]string{r.method, r.path, string(r.right)})
	}
	return table
}

// OpenAPI is the interface's description.
func OpenAPI() []byte { return openAPI }
