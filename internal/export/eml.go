package export

import (
	"bytes"
	"encoding/xml"
	"strconv"
	"strings"
)

// An element is a piece of XML: text, or elements within it.
type element struct {
	name  string
	attrs [][2]string
	text  string
	kids  []element
}

func el(name string, kids ...element) element { return element{name: name, kids: kids} }
func say(name string, text string) element    { return element{name: name, text: text} }
func (e element) with(name, v string) element {
	e.attrs = append(e.attrs, [2]string{name, v})
	return e
}
func (e element) and(kids ...element) element {
	e.kids = append(e.kids[:len(e.kids):len(e.kids)], kids...)
	return e
}
func para(name string, texts ...string) element {
	e := el(name)
	for _, t := range texts {
		e.kids = append(e.kids, say("para", t))
	}
	return e
}

// document returns the element as a file.
func (e element) document() []byte {
	var b bytes.Buffer
	b.WriteString(xml.Header)
	e.write(&b, "")
	return b.Bytes()
}

func (e element) write(b *bytes.Buffer, indent string) {
	b.WriteString(indent + "<" + e.name)
	for _, a := range e.attrs {
		b.WriteString(" " + a[0] + `="`)
		xml.EscapeText(b, []byte(a[1])) // a bytes.Buffer takes everything
		b.WriteString(`"`)
	}
	if len(e.kids) == 0 {
		b.WriteString(">")
		xml.EscapeText(b, []byte(e.text))
		b.WriteString("</" + e.name + ">\n")
		return
	}
	b.WriteString(">\n")
	for _, k := range e.kids {
		k.write(b, indent+"  ")
	}
	b.WriteString(indent + "</" + e.name + ">\n")
}

// archiveMeta is meta.xml, as the Darwin Core Text Guide has it: the first table is the core.
func archiveMeta(tables []table) []byte {
	rows := map[string]string{"event": dwc + "Event", "occurrence": dwc + "Occurrence", "extendedmeasurementorfact": "http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact"}
	root := el("archive").with("xmlns", "http://rs.tdwg.org/dwc/text/").with("metadata", "eml.xml")
	for i, t := range tables {
		name, id := "core", "id"
		if i > 0 {
			name, id = "extension", "coreid"
		}
		e := el(name).with("encoding", "UTF-8").with("linesTerminatedBy", `\r\n`).with("fieldsTerminatedBy", ",").with("fieldsEnclosedBy", `"`).
			with("ignoreHeaderLines", "1").with("rowType", rows[t.name])
		e = e.and(el("files", say("location", t.name+".csv")), el(id).with("index", "0"))
		for j, c := range t.columns {
			if c.term != "" {
				e = e.and(el("field").with("index", strconv.Itoa(j)).with("term", c.term))
			}
		}
		root = root.and(e)
	}
	return root.document()
}

// A described archive is what eml.xml says that its tables do not.
type described struct {
	id          string
	abstract    []string
	info        string
	maintenance string
	coverage    []element
	steps       []string // of the methods
	tables      []table
}

// eml is an archive's metadata, in EML 2.2: made by the cooperative, never by a ranch.
func eml(d described, m meta, files []file) []byte {
	party := func(name string) element { return el(name, say("organizationName", m.Cooperative)) }
	data := el("dataset",
		say("alternateIdentifier", "urn:uuid:"+d.id),
		say("title", m.title),
		party("creator"),
		say("pubDate", m.day()),
		say("language", "en"),
		para("abstract", d.abstract...),
		el("keywordSet", say("keyword", "simulated nests"), say("keyword", "nest survival"), say("keyword", "ground-nesting birds"), say("keyword", "clump density")),
		para("additionalInfo", d.info),
		para("intellectualRights", m.rights),
	)
	methods := el("methods")
	for _, text := range d.steps {
		methods = methods.and(el("methodStep", para("description", text)))
	}
	data = data.and(d.coverage...)
	data = data.and(
		el("maintenance", para("description", d.maintenance), say("maintenanceUpdateFrequency", "asNeeded")),
		party("contact"),
		party("publisher"),
		methods,
	)
	for i, t := range d.tables {
		data = data.and(emlTable(t, files[i]))
	}
	root := el("eml:eml").with("xmlns:eml", "https://eml.ecoinformatics.org/eml-2.2.0").
		with("xmlns:xsi", "http://www.w3.org/2001/XMLSchema-instance").
		with("xsi:schemaLocation", "https://eml.ecoinformatics.org/eml-2.2.0 https://eml.ecoinformatics.org/eml-2.2.0/eml.xsd").
		with("packageId", d.id+"/"+m.day()).with("system", m.maker()).with("xml:lang", "en")
	return root.and(data).document()
}

// coverage says when, and which animals. It says not where: no coordinates were taken.
func (a *archive) coverage() []element {
	c := el("coverage")
	if a.first != 0 {
		c = c.and(el("temporalCoverage", el("rangeOfDates", el("beginDate", say("calendarDate", a.first.String())), el("endDate", say("calendarDate", a.last.String())))))
	}
	if len(a.animals) > 0 {
		t := el("taxonomicCoverage", say("generalTaxonomicCoverage", "Animals that a trail camera caught at a simulated nest."))
		for _, p := range a.animals {
			taxon, ok := taxa[p]
			if !ok {
				taxon.name, taxon.rank = "Animalia", "kingdom"
			}
			t = t.and(el("taxonomicClassification", say("taxonRankName", taxon.rank), say("taxonRankValue", taxon.name), say("commonName", string(p))))
		}
		c = c.and(t)
	}
	if len(c.kids) == 0 {
		return nil
	}
	return []element{c}
}

// nestSteps are how simulated nests are made and looked at.
func nestSteps() []string {
	return []string{
		protocol + ". Each nest stands in one plant on a walked transect. A look notes the state: intact; taken, by a predator; spoiled, trampled or flooded; lost, where the nest was not found again, which says nothing of its fate.",
		"Any egg gone counts as taken, unless the cooperative sets the other rule.",
		"Signs at taken nests are noted as a choice a question. Every kind of animal can leave every kind of sign: a sign is no identification.",
		beltWay + ".",
	}
}

func emlTable(t table, f file) element {
	e := el("dataTable",
		say("entityName", t.en), say("entityDescription", t.meaning),
		el("physical",
			say("objectName", f.name),
			say("size", strconv.Itoa(len(f.data))).with("unit", "bytes"),
			say("authentication", sum(f.data)).with("method", "SHA-256"),
			say("characterEncoding", "UTF-8"),
			el("dataFormat", el("textFormat",
				say("numHeaderLines", "1"), say("recordDelimiter", `\r\n`), say("attributeOrientation", "column"),
				el("simpleDelimited", say("fieldDelimiter", ","), say("quoteCharacter", `"`)),
			)),
		))
	list := el("attributeList")
	for _, c := range t.columns {
		list = list.and(c.attribute())
	}
	return e.and(list, say("numberOfRecords", strconv.Itoa(len(t.rows))))
}

func (c column) attribute() element {
	meaning := c.meaning
	if !c.needed {
		meaning += " Empty: nobody wrote it down."
	}
	return el("attribute",
		say("attributeName", c.name),
		say("attributeLabel", c.en), say("attributeLabel", c.es),
		say("attributeDefinition", strings.TrimSpace(meaning)),
		el("measurementScale", c.scale()),
	)
}

func (c column) scale() element {
	switch c.kind {
	case word:
		domain := el("enumeratedDomain")
		for _, w := range c.choices {
			domain = domain.and(el("codeDefinition", say("code", w), say("definition", w)))
		}
		return el("nominal", el("nonNumericDomain", domain))
	case number, integer:
		kind := "real"
		if c.kind == integer {
			kind = "whole"
		}
		domain := el("numericDomain", say("numberType", kind))
		if c.least != nil {
			domain = domain.and(el("bounds", say("minimum", strconv.FormatFloat(*c.least, 'f', -1, 64)).with("exclusive", "false")))
		}
		return el("ratio", el("unit", say("standardUnit", "dimensionless")), domain)
	case date:
		return el("dateTime", say("formatString", "YYYY-MM-DD"))
	case year:
		return el("dateTime", say("formatString", "YYYY"))
	}
	return el("nominal", el("nonNumericDomain", el("textDomain", say("definition", "Text."))))
}
