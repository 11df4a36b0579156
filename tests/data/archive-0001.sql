BEGIN TRANSACTION;
CREATE TABLE cards (
	id INTEGER NOT NULL, 
	photo_sha256 VARCHAR(64) NOT NULL, 
	added VARCHAR(40) NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (photo_sha256)
);
INSERT INTO "cards" VALUES(1,'6b86b273ff34fce19d6b804eff5a3f5747ada4eaa22f1d49c01e52ddb7875b4b','2026-11-30T04:11:05+00:00');
INSERT INTO "cards" VALUES(2,'d4735e3a265e16eee03f59718b9b5d03019c07d8b6c51f90da3a666eec13ab35','2026-11-30T04:11:05+00:00');
CREATE TABLE readings (
	id INTEGER NOT NULL, 
	card_id INTEGER NOT NULL, 
	tool_version VARCHAR(60) NOT NULL, 
	made VARCHAR(40) NOT NULL, 
	added VARCHAR(40) NOT NULL, 
	newest INTEGER NOT NULL, 
	folder TEXT NOT NULL, 
	photo_file TEXT NOT NULL, 
	title TEXT NOT NULL, 
	sitter TEXT NOT NULL, 
	date TEXT NOT NULL, 
	medium TEXT NOT NULL, 
	sitter_key TEXT NOT NULL, 
	medium_key TEXT NOT NULL, 
	date_first INTEGER, 
	date_last INTEGER, 
	words TEXT NOT NULL, 
	colours BLOB NOT NULL, 
	note_json TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT one_reading_a_version UNIQUE (card_id, tool_version), 
	FOREIGN KEY(card_id) REFERENCES cards (id) ON DELETE CASCADE
);
INSERT INTO "readings" VALUES(1,1,'0.1.0','2026-01-02T10:00:00+00:00','2026-11-30T04:11:05+00:00',1,'','card-1.jpg','','K','','','k','',NULL,NULL,'k card-1.jpg',X'01000000000000003AB4C876BE8F494000000000000024400000000000002E4002000000000000001D5A643BDFC7514000000000000024400000000000002E40','{
 "format": "swatchread-note",
 "version": 1,
 "tool": {
  "name": "swatchread",
  "version": "0.1.0"
 },
 "made": "2026-01-02T10:00:00+00:00",
 "photo": {
  "file": "card-1.jpg",
  "sha256": "6b86b273ff34fce19d6b804eff5a3f5747ada4eaa22f1d49c01e52ddb7875b4b",
  "width": 3000,
  "height": 2000,
  "taken": null,
  "camera": null,
  "profile": "assumed sRGB"
 },
 "conditions": {
  "illuminant": "D50",
  "observer": "2 degree"
 },
 "chart": {
  "name": "invented chart",
  "corners": [
   [ 10.0, 10.0 ],
   [ 50.0, 10.0 ],
   [ 50.0, 50.0 ],
   [ 10.0, 50.0 ]
  ],
  "fit": {
   "model": "linear",
   "mean_de00": 0.5,
   "max_de00": 1.5,
   "cross_validated_de00": 0.9
  },
  "patches_used": 24,
  "patches_left_out": []
 },
 "card": {
  "corners": [
   [ 0.0, 0.0 ],
   [ 900.0, 0.0 ],
   [ 900.0, 900.0 ],
   [ 0.0, 900.0 ]
  ],
  "ground": {
   "lab": [ 90.0, 0.0, 3.0 ],
   "value": 8.9
  }
 },
 "swatches": [
  {
   "id": "r1c1",
   "row": 1,
   "column": 1,
   "outline": [
    [ 100.0, 100.0 ],
    [ 140.0, 100.0 ],
    [ 140.0, 140.0 ],
    [ 100.0, 140.0 ]
   ],
   "lab": [ 51.123000000000005, 10.0, 15.0 ],
   "lch": [ 51.123000000000005, 18.027756377319946, 56.309932474020215 ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "N 5.0",
   "value": 5.01,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.25,
    "name": "warm",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2 titanium white + 1 viridian",
   "writing": null
  },
  {
   "id": "r1c2",
   "row": 1,
   "column": 2,
   "outline": [
    [ 200.0, 100.0 ],
    [ 240.0, 100.0 ],
    [ 240.0, 140.0 ],
    [ 200.0, 140.0 ]
   ],
   "lab": [ 71.123, 10.0, 15.0 ],
   "lch": [ 71.123, 18.027756377319946, 56.309932474020215 ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "N 5.0",
   "value": 7.03,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.25,
    "name": "warm",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2 titanium white + 1 viridian",
   "writing": null
  }
 ],
 "card_info": {
  "title": "",
  "sitter": "K",
  "date": "",
  "medium": "",
  "support": "",
  "note": ""
 },
 "warnings": [],
 "photos": []
}
');
INSERT INTO "readings" VALUES(2,2,'0.1.0','2026-01-02T10:00:00+00:00','2026-11-30T04:11:05+00:00',1,'','card-2.jpg','','K','','','k','',NULL,NULL,'k card-2.jpg',X'03000000000000003AB4C876BE0F4A4000000000000024400000000000002E4004000000000000001D5A643BDF07524000000000000024400000000000002E40','{
 "format": "swatchread-note",
 "version": 1,
 "tool": {
  "name": "swatchread",
  "version": "0.1.0"
 },
 "made": "2026-01-02T10:00:00+00:00",
 "photo": {
  "file": "card-2.jpg",
  "sha256": "d4735e3a265e16eee03f59718b9b5d03019c07d8b6c51f90da3a666eec13ab35",
  "width": 3000,
  "height": 2000,
  "taken": null,
  "camera": null,
  "profile": "assumed sRGB"
 },
 "conditions": {
  "illuminant": "D50",
  "observer": "2 degree"
 },
 "chart": {
  "name": "invented chart",
  "corners": [
   [ 10.0, 10.0 ],
   [ 50.0, 10.0 ],
   [ 50.0, 50.0 ],
   [ 10.0, 50.0 ]
  ],
  "fit": {
   "model": "linear",
   "mean_de00": 0.5,
   "max_de00": 1.5,
   "cross_validated_de00": 0.9
  },
  "patches_used": 24,
  "patches_left_out": []
 },
 "card": {
  "corners": [
   [ 0.0, 0.0 ],
   [ 900.0, 0.0 ],
   [ 900.0, 900.0 ],
   [ 0.0, 900.0 ]
  ],
  "ground": {
   "lab": [ 90.0, 0.0, 3.0 ],
   "value": 8.9
  }
 },
 "swatches": [
  {
   "id": "r1c1",
   "row": 1,
   "column": 1,
   "outline": [
    [ 100.0, 100.0 ],
    [ 140.0, 100.0 ],
    [ 140.0, 140.0 ],
    [ 100.0, 140.0 ]
   ],
   "lab": [ 52.123000000000005, 10.0, 15.0 ],
   "lch": [ 52.123000000000005, 18.027756377319946, 56.309932474020215 ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "N 5.0",
   "value": 5.11,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.25,
    "name": "warm",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2 titanium white + 1 viridian",
   "writing": null
  },
  {
   "id": "r1c2",
   "row": 1,
   "column": 2,
   "outline": [
    [ 200.0, 100.0 ],
    [ 240.0, 100.0 ],
    [ 240.0, 140.0 ],
    [ 200.0, 140.0 ]
   ],
   "lab": [ 72.123, 10.0, 15.0 ],
   "lch": [ 72.123, 18.027756377319946, 56.309932474020215 ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "N 5.0",
   "value": 7.13,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.25,
    "name": "warm",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2 titanium white + 1 viridian",
   "writing": null
  }
 ],
 "card_info": {
  "title": "",
  "sitter": "K",
  "date": "",
  "medium": "",
  "support": "",
  "note": ""
 },
 "warnings": [],
 "photos": []
}
');
CREATE TABLE swatch_tubes (
	swatch_id INTEGER NOT NULL, 
	tube TEXT NOT NULL, 
	PRIMARY KEY (swatch_id, tube), 
	FOREIGN KEY(swatch_id) REFERENCES swatches (id) ON DELETE CASCADE
);
INSERT INTO "swatch_tubes" VALUES(1,'titanium white');
INSERT INTO "swatch_tubes" VALUES(1,'viridian');
INSERT INTO "swatch_tubes" VALUES(2,'titanium white');
INSERT INTO "swatch_tubes" VALUES(2,'viridian');
INSERT INTO "swatch_tubes" VALUES(3,'titanium white');
INSERT INTO "swatch_tubes" VALUES(3,'viridian');
INSERT INTO "swatch_tubes" VALUES(4,'titanium white');
INSERT INTO "swatch_tubes" VALUES(4,'viridian');
CREATE TABLE swatches (
	id INTEGER NOT NULL, 
	reading_id INTEGER NOT NULL, 
	swatch VARCHAR(24) NOT NULL, 
	row_number INTEGER NOT NULL, 
	column_number INTEGER NOT NULL, 
	lab_l DOUBLE NOT NULL, 
	lab_a DOUBLE NOT NULL, 
	lab_b DOUBLE NOT NULL, 
	u_de00 DOUBLE NOT NULL, 
	own_de00 DOUBLE NOT NULL, 
	munsell VARCHAR(40) NOT NULL, 
	munsell_hue DOUBLE, 
	munsell_chroma DOUBLE, 
	value DOUBLE NOT NULL, 
	value_name VARCHAR(40) NOT NULL, 
	temperature VARCHAR(20) NOT NULL, 
	relative VARCHAR(20) NOT NULL, 
	lean VARCHAR(20) NOT NULL, 
	writing TEXT NOT NULL, 
	recipe TEXT NOT NULL, 
	recipe_key TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(reading_id) REFERENCES readings (id) ON DELETE CASCADE
);
INSERT INTO "swatches" VALUES(1,1,'r1c1',1,1,5.11230000000000046628e+01,10.0,15.0,0.7,0.3,'N 5.0',NULL,0.0,5.01,'middle','warm','even','none','','2 titanium white + 1 viridian','2 titanium white + 1 viridian');
INSERT INTO "swatches" VALUES(2,1,'r1c2',1,2,71.123,10.0,15.0,0.7,0.3,'N 5.0',NULL,0.0,7.03,'middle','warm','even','none','','2 titanium white + 1 viridian','2 titanium white + 1 viridian');
INSERT INTO "swatches" VALUES(3,2,'r1c1',1,1,5.2123000000000004662e+01,10.0,15.0,0.7,0.3,'N 5.0',NULL,0.0,5.11,'middle','warm','even','none','','2 titanium white + 1 viridian','2 titanium white + 1 viridian');
INSERT INTO "swatches" VALUES(4,2,'r1c2',1,2,72.123,10.0,15.0,0.7,0.3,'N 5.0',NULL,0.0,7.13,'middle','warm','even','none','','2 titanium white + 1 viridian','2 titanium white + 1 viridian');
CREATE TABLE swatchread_revision (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT swatchread_revision_pkc PRIMARY KEY (version_num)
);
INSERT INTO "swatchread_revision" VALUES('0001');
CREATE INDEX ix_swatches_reading_id ON swatches (reading_id);
CREATE INDEX ix_swatch_tubes_tube ON swatch_tubes (tube);
COMMIT;
