package reading

import "slices"

// lendHeads gives the headings of a later page to rows without any that stand above it in the same columns: a print layout
// whose first page lost its headings.
func (r *reader) lendHeads() {
	for k := 1; k < len(r.blocks); k++ {
		above, b := r.blocks[k-1], r.blocks[k]
		if above.g == b.g && len(above.heads) > 0 && len(b.heads) > 0 && above.left == b.left && above.right == b.right && r.alike(above, b) {
			for i := range b.cols { // a line's head that was taken for headings leaves some columns without
				if b.cols[i].head.Text == "" {
					b.cols[i].head = above.cols[i].head
				}
			}
		}
	}
	for k := 1; k < len(r.blocks); k++ {
		bare, b := r.blocks[k-1], r.blocks[k]
		if bare.g != b.g || len(bare.heads) > 0 || len(b.heads) == 0 || len(bare.records) < 2 || len(b.records) < 2 || bare.left != b.left || bare.right > b.right || !r.alike(bare, b) {
			continue
		}
		b.records = append(slices.Clone(bare.records), b.records...)
		r.blocks = slices.Delete(r.blocks, k-1, k)
		k--
	}
}

// alike tells whether two tables hold the same kinds of values in nearly all of their columns.
func (r *reader) alike(a, b *block) bool {
	same, all := 0, 0
	for col := a.left; col < a.right; col++ {
		x, y := r.mostly(a, col), r.mostly(b, col)
		if x == "" || y == "" {
			continue
		}
		all++
		if x == y {
			same++
		}
	}
	return all >= 4 && same*10 >= all*9
}

// mostly names the kind of most values in a column; "" where it is empty.
func (r *reader) mostly(b *block, col int) string {
	kinds := map[string]int{}
	for _, rec := range b.records[:min(len(b.records), sampleRows)] {
		c := b.g.lines[rec.row].at(col)
		if c.text == "" {
			continue
		}
		switch k := r.kind(c); {
		case c.look().Date != 0 || r.dateOf(c, true).Form != 0:
			kinds["day"]++
		case k.isNum:
			kinds["number"]++
		case k.isCover:
			kinds["cover"]++
		default:
			kinds["word"]++
		}
	}
	best := ""
	for name, n := range kinds {
		if n > kinds[best] || n == kinds[best] && name < best {
			best = name
		}
	}
	return best
}
