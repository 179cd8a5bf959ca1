package intake_test

import (
	"strings"
	"testing"

	"tussock/internal/intake"
	"tussock/internal/survey"
)

// TestCameraDay: the day on which a camera recorded a loss is read under several headings and in the file's own way of writing days. It stays where it lies between
// setting and the look that found the nest gone; any other entry is said and kept among the remarks, and the nest counts by its looks.
func TestCameraDay(t *testing.T) {
	for _, tt := range []struct{ heading, camera, fate, day, want, says string }{
		{"camera_on", "raccoon", "taken", "2025-05-21", "2025-05-21", ""},
		{"Camera date", "raccoon", "taken", "5/21/2025", "2025-05-21", ""},
		{"date taken (camera)", "raccoon", "taken", "21-May", "2025-05-21", ""},
		{"Loss on camera", "", "taken", "2025-05-29", "2025-05-29", ""}, // the day of the look itself
		{"Fecha de la cámara", "mapache", "comido", "2025-05-15", "2025-05-15", ""},
		{"día en cámara", "", "comido", "2025-05-21", "2025-05-21", ""},
		{"camera date", "raccoon", "taken", "2025-05-04", "2025-05-04", "before a look that found them there"},
		{"camera date", "raccoon", "taken", "2025-04-30", "", "is not between"},
		{"camera date", "raccoon", "taken", "2025-06-02", "", "is not between"},
		{"camera date", "", "intact", "2025-05-20", "", "no look found the nest gone"},
		{"camera date", "", "lost", "2025-05-20", "", "no look found the nest gone"},
		{"camera date", "raccoon", "taken", "first night", "", "is no day that we can read"},
		{"camera set date", "raccoon", "taken", "2025-05-01", "", ""}, // is not kept
	} {
		sheet := "ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,camera," + tt.heading + "\n"
		for _, nest := range []string{"1", "2", "3", "4"} {
			sheet += "Bar J,1," + nest + ",yucca,2025-05-01,2025-05-15,intact,2025-05-29,intact,,\n"
		}
		sheet += "Bar J,1,5,yucca,2025-05-01,2025-05-15,intact,2025-05-29," + tt.fate + "," + tt.camera + "," + tt.day + "\n"
		res, err := intake.Read(csv(sheet), intake.Options{Today: today})
		if err != nil || len(res.Data.Nests) != 5 || len(res.Refused) > 0 {
			t.Fatalf("%s %s: %v, %d nests, %+v", tt.heading, tt.day, err, len(res.Data.Nests), res.Refused)
		}
		n := res.Data.Nests[4]
		got := ""
		if n.CameraOn != 0 {
			got = n.CameraOn.String()
		}
		if got != tt.want || len(n.Visits) != 2 {
			t.Errorf("%s %s: camera day %q, want %q; looks %v", tt.heading, tt.day, got, tt.want, n.Visits)
		}
		if n.Fate() == survey.Taken && tt.camera != "" && n.Camera != survey.Raccoon {
			t.Errorf("%s %s: the animal is %q", tt.heading, tt.day, n.Camera)
		}
		said := ""
		for _, note := range res.Tidied {
			if strings.HasPrefix(note.Kind, "camera-") {
				said += note.Text
			}
		}
		if tt.says == "" && said != "" || !strings.Contains(said, tt.says) {
			t.Errorf("%s %s: said %q, want %q", tt.heading, tt.day, said, tt.says)
		}
		if tt.says != "" && tt.want == "" && !strings.Contains(n.Notes, "camera: "+tt.day) {
			t.Errorf("%s %s: lost: the remarks are %q", tt.heading, tt.day, n.Notes)
		}
	}
}

// TestAnimalUnderTakenOnCamera: what heads a day may head the animal.
func TestAnimalUnderTakenOnCamera(t *testing.T) {
	res, err := intake.Read(csv("ranch,transect,nest,substrate,set_on,check1_on,check1,taken on camera\n"+
		"Bar J,1,1,yucca,2025-05-01,2025-05-15,taken,raccoon\nBar J,1,2,yucca,2025-05-01,2025-05-15,taken,coyote\nBar J,1,3,yucca,2025-05-01,2025-05-15,intact,\n"), intake.Options{Today: today})
	if err != nil || len(res.Data.Nests) != 3 || res.Data.Nests[0].Camera != survey.Raccoon || res.Data.Nests[1].Camera != survey.Coyote {
		t.Errorf("%v, %+v", err, res.Data.Nests)
	}
}
