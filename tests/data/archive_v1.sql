CREATE TABLE swatchread_schema (version INTEGER NOT NULL, PRIMARY KEY (version));
INSERT INTO swatchread_schema VALUES (1);
CREATE TABLE cards (id INTEGER NOT NULL PRIMARY KEY, photo_sha256 VARCHAR(64) NOT NULL, added VARCHAR(40) NOT NULL, UNIQUE (photo_sha256));
CREATE TABLE readings (
 id INTEGER NOT NULL PRIMARY KEY,
 card_id INTEGER NOT NULL REFERENCES cards (id) ON DELETE CASCADE,
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
 note_json TEXT NOT NULL,
 CONSTRAINT one_reading_a_version UNIQUE (card_id, tool_version)
);
CREATE INDEX ix_readings_card_id ON readings (card_id);
CREATE TABLE swatches (
 id INTEGER NOT NULL PRIMARY KEY,
 reading_id INTEGER NOT NULL REFERENCES readings (id) ON DELETE CASCADE,
 newest INTEGER NOT NULL,
 swatch VARCHAR(24) NOT NULL,
 lab_l DOUBLE PRECISION NOT NULL,
 lab_a DOUBLE PRECISION NOT NULL,
 lab_b DOUBLE PRECISION NOT NULL,
 u_de00 DOUBLE PRECISION NOT NULL,
 munsell VARCHAR(40) NOT NULL,
 value DOUBLE PRECISION NOT NULL,
 temperature VARCHAR(20) NOT NULL,
 relative VARCHAR(20) NOT NULL,
 lean VARCHAR(20) NOT NULL,
 recipe TEXT NOT NULL
);
CREATE INDEX ix_swatches_reading_id ON swatches (reading_id);
INSERT INTO cards VALUES (1, '6b86b273ff34fce19d6b804eff5a3f5747ada4eaa22f1d49c01e52ddb7875b4b', '2026-01-05T10:00:00+00:00');
INSERT INTO readings VALUES (1, 1, '0.0.9', '2026-01-02T10:00:00+00:00', '2026-01-05T10:00:00+00:00', 0, '', 'card-1.jpg', 'invented evening 1', 'B', '2021-02-15', 'oil on panel', 'b', 'oil on panel', '{
 "format": "swatchread-note",
 "version": 1,
 "tool": {
  "name": "swatchread",
  "version": "0.0.9"
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
   [
    10.0,
    10.0
   ],
   [
    50.0,
    10.0
   ],
   [
    50.0,
    50.0
   ],
   [
    10.0,
    50.0
   ]
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
   [
    0.0,
    0.0
   ],
   [
    900.0,
    0.0
   ],
   [
    900.0,
    900.0
   ],
   [
    0.0,
    900.0
   ]
  ],
  "ground": {
   "lab": [
    90.0,
    0.0,
    3.0
   ],
   "value": 8.9
  }
 },
 "swatches": [
  {
   "id": "r1c1",
   "row": 1,
   "column": 1,
   "outline": [
    [
     100.0,
     100.0
    ],
    [
     140.0,
     100.0
    ],
    [
     140.0,
     140.0
    ],
    [
     100.0,
     140.0
    ]
   ],
   "lab": [
    55.946,
    7.272,
    16.774
   ],
   "lch": [
    55.946,
    18.28247959112768,
    66.5619137492114
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "8.3YR 5.5/2.8",
   "value": 5.489066155517245,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.18180000000000002,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2:1 red ochre, viridian",
   "writing": null
  },
  {
   "id": "r1c2",
   "row": 1,
   "column": 2,
   "outline": [
    [
     200.0,
     100.0
    ],
    [
     240.0,
     100.0
    ],
    [
     240.0,
     140.0
    ],
    [
     200.0,
     140.0
    ]
   ],
   "lab": [
    91.037,
    3.631,
    7.893
   ],
   "lch": [
    91.037,
    8.688130408781857,
    65.29625169957453
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "6.1YR 9.1/1.4",
   "value": 9.088103813233262,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.090775,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "ivory black with a dot of burnt sienna",
   "writing": null
  },
  {
   "id": "r2c1",
   "row": 2,
   "column": 1,
   "outline": [
    [
     100.0,
     200.0
    ],
    [
     140.0,
     200.0
    ],
    [
     140.0,
     240.0
    ],
    [
     100.0,
     240.0
    ]
   ],
   "lab": [
    26.533,
    -1.933,
    5.565
   ],
   "lch": [
    26.533,
    5.891155574248571,
    109.15464536930496
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "2.2GY 2.6/1.0",
   "value": 2.6253769891948795,
   "value_name": "middle",
   "temperature": {
    "warmth": -0.048325,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2 white + 1 ochre",
   "writing": null
  },
  {
   "id": "r2c2",
   "row": 2,
   "column": 2,
   "outline": [
    [
     200.0,
     200.0
    ],
    [
     240.0,
     200.0
    ],
    [
     240.0,
     240.0
    ],
    [
     200.0,
     240.0
    ]
   ],
   "lab": [
    90.892,
    3.09,
    8.417
   ],
   "lch": [
    90.892,
    8.966269514129051,
    69.84109823754855
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "7.6YR 9.1/1.3",
   "value": 9.073183835474397,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.07725,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "",
   "writing": null
  }
 ],
 "card_info": {
  "title": "invented evening 1",
  "sitter": "B",
  "date": "2021-02-15",
  "medium": "oil on panel",
  "support": "",
  "note": ""
 },
 "warnings": []
}
');
INSERT INTO swatches VALUES (1, 1, 0, 'r1c1', 55.946, 7.272, 16.774, 0.7, '8.3YR 5.5/2.8', 5.489066155517245, 'neutral', 'even', 'none', '2:1 red ochre, viridian');
INSERT INTO swatches VALUES (2, 1, 0, 'r1c2', 91.037, 3.631, 7.893, 0.7, '6.1YR 9.1/1.4', 9.088103813233262, 'neutral', 'even', 'none', 'ivory black with a dot of burnt sienna');
INSERT INTO swatches VALUES (3, 1, 0, 'r2c1', 26.533, -1.933, 5.565, 0.7, '2.2GY 2.6/1.0', 2.6253769891948795, 'neutral', 'even', 'none', '2 white + 1 ochre');
INSERT INTO swatches VALUES (4, 1, 0, 'r2c2', 90.892, 3.09, 8.417, 0.7, '7.6YR 9.1/1.3', 9.073183835474397, 'neutral', 'even', 'none', '');
INSERT INTO readings VALUES (2, 1, '0.1.0', '2026-01-02T10:00:00+00:00', '2026-01-05T10:00:00+00:00', 1, '', 'card-1.jpg', 'invented evening 1', 'B', '2021-02-15', 'oil on panel', 'b', 'oil on panel', '{
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
   [
    10.0,
    10.0
   ],
   [
    50.0,
    10.0
   ],
   [
    50.0,
    50.0
   ],
   [
    10.0,
    50.0
   ]
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
   [
    0.0,
    0.0
   ],
   [
    900.0,
    0.0
   ],
   [
    900.0,
    900.0
   ],
   [
    0.0,
    900.0
   ]
  ],
  "ground": {
   "lab": [
    90.0,
    0.0,
    3.0
   ],
   "value": 8.9
  }
 },
 "swatches": [
  {
   "id": "r1c1",
   "row": 1,
   "column": 1,
   "outline": [
    [
     100.0,
     100.0
    ],
    [
     140.0,
     100.0
    ],
    [
     140.0,
     140.0
    ],
    [
     100.0,
     140.0
    ]
   ],
   "lab": [
    55.946,
    7.272,
    16.774
   ],
   "lch": [
    55.946,
    18.28247959112768,
    66.5619137492114
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "8.3YR 5.5/2.8",
   "value": 5.489066155517245,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.18180000000000002,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2:1 red ochre, viridian",
   "writing": null
  },
  {
   "id": "r1c2",
   "row": 1,
   "column": 2,
   "outline": [
    [
     200.0,
     100.0
    ],
    [
     240.0,
     100.0
    ],
    [
     240.0,
     140.0
    ],
    [
     200.0,
     140.0
    ]
   ],
   "lab": [
    91.037,
    3.631,
    7.893
   ],
   "lch": [
    91.037,
    8.688130408781857,
    65.29625169957453
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "6.1YR 9.1/1.4",
   "value": 9.088103813233262,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.090775,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "ivory black with a dot of burnt sienna",
   "writing": null
  },
  {
   "id": "r2c1",
   "row": 2,
   "column": 1,
   "outline": [
    [
     100.0,
     200.0
    ],
    [
     140.0,
     200.0
    ],
    [
     140.0,
     240.0
    ],
    [
     100.0,
     240.0
    ]
   ],
   "lab": [
    26.533,
    -1.933,
    5.565
   ],
   "lch": [
    26.533,
    5.891155574248571,
    109.15464536930496
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "2.2GY 2.6/1.0",
   "value": 2.6253769891948795,
   "value_name": "middle",
   "temperature": {
    "warmth": -0.048325,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2 white + 1 ochre",
   "writing": null
  },
  {
   "id": "r2c2",
   "row": 2,
   "column": 2,
   "outline": [
    [
     200.0,
     200.0
    ],
    [
     240.0,
     200.0
    ],
    [
     240.0,
     240.0
    ],
    [
     200.0,
     240.0
    ]
   ],
   "lab": [
    90.892,
    3.09,
    8.417
   ],
   "lch": [
    90.892,
    8.966269514129051,
    69.84109823754855
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "7.6YR 9.1/1.3",
   "value": 9.073183835474397,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.07725,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "",
   "writing": null
  }
 ],
 "card_info": {
  "title": "invented evening 1",
  "sitter": "B",
  "date": "2021-02-15",
  "medium": "oil on panel",
  "support": "",
  "note": ""
 },
 "warnings": []
}
');
INSERT INTO swatches VALUES (5, 2, 1, 'r1c1', 55.946, 7.272, 16.774, 0.7, '8.3YR 5.5/2.8', 5.489066155517245, 'neutral', 'even', 'none', '2:1 red ochre, viridian');
INSERT INTO swatches VALUES (6, 2, 1, 'r1c2', 91.037, 3.631, 7.893, 0.7, '6.1YR 9.1/1.4', 9.088103813233262, 'neutral', 'even', 'none', 'ivory black with a dot of burnt sienna');
INSERT INTO swatches VALUES (7, 2, 1, 'r2c1', 26.533, -1.933, 5.565, 0.7, '2.2GY 2.6/1.0', 2.6253769891948795, 'neutral', 'even', 'none', '2 white + 1 ochre');
INSERT INTO swatches VALUES (8, 2, 1, 'r2c2', 90.892, 3.09, 8.417, 0.7, '7.6YR 9.1/1.3', 9.073183835474397, 'neutral', 'even', 'none', '');
INSERT INTO cards VALUES (2, 'd4735e3a265e16eee03f59718b9b5d03019c07d8b6c51f90da3a666eec13ab35', '2026-01-05T10:00:00+00:00');
INSERT INTO readings VALUES (3, 2, '0.1.0', '2026-01-02T10:00:00+00:00', '2026-01-05T10:00:00+00:00', 1, '', 'card-2.jpg', 'invented evening 2', 'K', '2022-03-15', 'gouache', 'k', 'gouache', '{
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
   [
    10.0,
    10.0
   ],
   [
    50.0,
    10.0
   ],
   [
    50.0,
    50.0
   ],
   [
    10.0,
    50.0
   ]
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
   [
    0.0,
    0.0
   ],
   [
    900.0,
    0.0
   ],
   [
    900.0,
    900.0
   ],
   [
    0.0,
    900.0
   ]
  ],
  "ground": {
   "lab": [
    90.0,
    0.0,
    3.0
   ],
   "value": 8.9
  }
 },
 "swatches": [
  {
   "id": "r1c1",
   "row": 1,
   "column": 1,
   "outline": [
    [
     100.0,
     100.0
    ],
    [
     140.0,
     100.0
    ],
    [
     140.0,
     140.0
    ],
    [
     100.0,
     140.0
    ]
   ],
   "lab": [
    35.929,
    8.156,
    17.539
   ],
   "lch": [
    35.929,
    19.342617635676927,
    65.0605919671523
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "8.5YR 3.5/2.9",
   "value": 3.5361756200553742,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.20390000000000003,
    "name": "warm",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "ivory black with a dot of burnt sienna",
   "writing": null
  },
  {
   "id": "r1c2",
   "row": 1,
   "column": 2,
   "outline": [
    [
     200.0,
     100.0
    ],
    [
     240.0,
     100.0
    ],
    [
     240.0,
     140.0
    ],
    [
     200.0,
     140.0
    ]
   ],
   "lab": [
    38.879,
    5.649,
    6.74
   ],
   "lch": [
    38.879,
    8.794248177075742,
    50.0325980615944
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "4.1YR 3.8/1.4",
   "value": 3.820653640866335,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.141225,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "2 white + 1 ochre",
   "writing": null
  },
  {
   "id": "r2c1",
   "row": 2,
   "column": 1,
   "outline": [
    [
     100.0,
     200.0
    ],
    [
     140.0,
     200.0
    ],
    [
     140.0,
     240.0
    ],
    [
     100.0,
     240.0
    ]
   ],
   "lab": [
    80.138,
    3.022,
    13.741
   ],
   "lch": [
    80.138,
    14.069383959505831,
    77.5966382783812
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "0.2Y 7.9/2.0",
   "value": 7.959637690235334,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.07554999999999999,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "",
   "writing": null
  },
  {
   "id": "r2c2",
   "row": 2,
   "column": 2,
   "outline": [
    [
     200.0,
     200.0
    ],
    [
     240.0,
     200.0
    ],
    [
     240.0,
     240.0
    ],
    [
     200.0,
     240.0
    ]
   ],
   "lab": [
    22.353,
    2.705,
    3.779
   ],
   "lch": [
    22.353,
    4.647350427932028,
    54.404994917622425
   ],
   "uncertainty": {
    "L": 0.5,
    "a": 0.4,
    "b": 0.6,
    "de00": 0.7,
    "own_de00": 0.3
   },
   "munsell": "6.7YR 2.2/0.8",
   "value": 2.2123634561962024,
   "value_name": "middle",
   "temperature": {
    "warmth": 0.067625,
    "name": "neutral",
    "relative": "even",
    "against": "run"
   },
   "lean": "none",
   "spread_de00": 0.4,
   "flags": [],
   "recipe": "1 grandmother''s mud + 2 titanium white",
   "writing": null
  }
 ],
 "card_info": {
  "title": "invented evening 2",
  "sitter": "K",
  "date": "2022-03-15",
  "medium": "gouache",
  "support": "",
  "note": ""
 },
 "warnings": []
}
');
INSERT INTO swatches VALUES (9, 3, 1, 'r1c1', 35.929, 8.156, 17.539, 0.7, '8.5YR 3.5/2.9', 3.5361756200553742, 'warm', 'even', 'none', 'ivory black with a dot of burnt sienna');
INSERT INTO swatches VALUES (10, 3, 1, 'r1c2', 38.879, 5.649, 6.74, 0.7, '4.1YR 3.8/1.4', 3.820653640866335, 'neutral', 'even', 'none', '2 white + 1 ochre');
INSERT INTO swatches VALUES (11, 3, 1, 'r2c1', 80.138, 3.022, 13.741, 0.7, '0.2Y 7.9/2.0', 7.959637690235334, 'neutral', 'even', 'none', '');
INSERT INTO swatches VALUES (12, 3, 1, 'r2c2', 22.353, 2.705, 3.779, 0.7, '6.7YR 2.2/0.8', 2.2123634561962024, 'neutral', 'even', 'none', '1 grandmother''s mud + 2 titanium white');
