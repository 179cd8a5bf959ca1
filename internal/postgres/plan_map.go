package postgres

import (
	"encoding/json"
	"errors"
	"strings"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/season"
	"tussock/internal/words"
)

// Kinds of things on a ranch's own map.
const (
	GroundPasture = "pasture"
	GroundRoad    = "road"
	GroundWater   = "water"
)

var errNoGround = errs.New(errs.NotFound, "There is no such thing on the map.")

// Ground returns a ranch's own map, its parts by name. Those who may open the ranch; others get errs.NotFound.
func (tx *Tx) Ground(ranch access.ID) (season.Ground, error) {
	var g season.Ground
	if _, err := tx.Ranch(ranch); err != nil {
		return g, err
	}
	var rows []struct {
		ID                   access.ID
		Kind, Name, SiteKind string
		Rested               bool
		Shape                string
	}
	err := tx.rows(&rows, `SELECT id, kind, name, site_kind, rested, shape FROM tussock.season_map
		WHERE coop_id = @coop AND ranch_id = @ranch ORDER BY kind, name, id`, map[string]any{"ranch": ranch})
	if err != nil {
		return g, err
	}
	for _, r := range rows {
		f := geo.Feature{Name: r.Name}
		if err := json.Unmarshal([]byte(r.Shape), &f); err != nil {
			return g, err
		}
		switch r.Kind {
		case GroundPasture:
			g.Pastures = append(g.Pastures, season.Pasture{ID: r.ID, Name: r.Name, SiteKind: r.SiteKind, Rested: r.Rested, Shape: f.Polygons})
		case GroundRoad:
			g.Roads = append(g.Roads, season.Mark{ID: r.ID, Feature: f})
		case GroundWater:
			g.Water = append(g.Water, season.Mark{ID: r.ID, Feature: f})
		}
	}
	return g, nil
}

// AddGround puts things on a ranch's map: pastures, which are polygons with a name each, roads or water. A pasture takes
// the place of one of the same name. Only the owner: anybody else gets errs.NotFound. errs.Invalid for a pasture that is
// no polygon or has no name, errs.TooLarge where the map would hold too much.
func (tx *Tx) AddGround(ranch access.ID, kind string, features []geo.Feature) error {
	g, err := tx.Ground(ranch)
	if err != nil {
		return err
	}
	if len(g.Pastures)+len(g.Roads)+len(g.Water)+len(features) > 2*geo.MostFeatures {
		return errs.Tell(errs.TooLarge, words.Later("A ranch’s map holds %d things at most. Take off what is not needed first.", 2*geo.MostFeatures), nil)
	}
	for i := range features {
		f := &features[i]
		f.Name = strings.TrimSpace(f.Name)
		if kind == GroundPasture {
			if err := pastureProblem(f, i+1); err != nil {
				return err
			}
			if _, err := tx.exec("DELETE FROM tussock.season_map WHERE coop_id = @coop AND ranch_id = @ranch AND kind = @kind AND lower(name) = lower(@name)",
				map[string]any{"ranch": ranch, "kind": kind, "name": f.Name}); err != nil {
				return err
			}
		}
		shape, err := json.Marshal(f)
		if err != nil {
			return err
		}
		if _, err := tx.exec(`INSERT INTO tussock.season_map (coop_id, ranch_id, id, kind, name, shape) VALUES (@coop, @ranch, @id, @kind, @name, CAST(@shape AS jsonb))`,
			map[string]any{"ranch": ranch, "id": newID(), "kind": kind, "name": f.Name, "shape": string(shape)}); err != nil {
			return err
		}
	}
	return nil
}

// PutGround puts a whole map in: AddGround for each kind, with the pastures' ground and rest.
func (tx *Tx) PutGround(ranch access.ID, g season.Ground) error {
	var pastures, roads, water []geo.Feature
	for _, p := range g.Pastures {
		pastures = append(pastures, geo.Feature{Name: p.Name, Polygons: p.Shape})
	}
	for _, m := range g.Roads {
		roads = append(roads, m.Feature)
	}
	for _, m := range g.Water {
		water = append(water, m.Feature)
	}
	if err := errors.Join(tx.AddGround(ranch, GroundPasture, pastures), tx.AddGround(ranch, GroundRoad, roads), tx.AddGround(ranch, GroundWater, water)); err != nil {
		return err
	}
	kept, err := tx.Ground(ranch)
	if err != nil {
		return err
	}
	for _, k := range kept.Pastures {
		for _, p := range g.Pastures {
			if p.Name == k.Name {
				if err := tx.ChangePasture(ranch, k.ID, p.SiteKind, p.Rested); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func pastureProblem(f *geo.Feature, number int) error {
	switch {
	case len(f.Polygons) == 0:
		return errs.Tell(errs.Invalid, words.Later("Number %d in the file is no polygon. A pasture is drawn as its fence, all the way round.", number), nil)
	case f.Name == "":
		return errs.Tell(errs.Invalid, words.Later("Number %d in the file has no name. Name each pasture in your map program as your crew calls it.", number), nil)
	case len([]rune(f.Name)) > 60:
		return errs.New(errs.Invalid, words.Mark("A pasture’s name has 60 letters at most."))
	}
	f.Paths, f.Points = nil, nil
	return nil
}

// ChangePasture says what kind of ground a pasture is and whether it is rested. Only the owner: anybody else gets
// errs.NotFound.
func (tx *Tx) ChangePasture(ranch, id access.ID, siteKind string, rested bool) error {
	if !isID(id) || !isID(ranch) {
		return errNoGround
	}
	return tx.must(errNoGround, `UPDATE tussock.season_map SET site_kind = @site, rested = @rested
		WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id AND kind = 'pasture'`,
		map[string]any{"ranch": ranch, "id": id, "site": strings.TrimSpace(siteKind), "rested": rested})
}

// DropGround takes one thing off the map. Lines that were drawn stay where they are. Only the owner: anybody else gets
// errs.NotFound.
func (tx *Tx) DropGround(ranch, id access.ID) error {
	if !isID(id) || !isID(ranch) {
		return errNoGround
	}
	return tx.must(errNoGround, "DELETE FROM tussock.season_map WHERE coop_id = @coop AND ranch_id = @ranch AND id = @id", map[string]any{"ranch": ranch, "id": id})
}
