//! Lines of provenance by N. H. Yeide, K. Akinsha and A. L. Walsh, *The AAM Guide to Provenance
//! Research*, 2001: five examples in its punctuation, names invented, from events to the letter.

use dorso::note::provenance::{Doubt, Event, How, Next, When, Who, line, notes};

fn owner(name: &str) -> Event {
    Event::new(Who::Owner {
        name: name.into(),
        life: None,
    })
}

fn trade(name: &str) -> Event {
    Event::new(Who::Trade(name.into()))
}

#[test]
fn an_unbroken_line_runs_on_semicolons_with_dealers_in_brackets() {
    let life = |name: &str, a: &str, b: &str| {
        Event::new(Who::Owner {
            name: name.into(),
            life: Some((a.into(), b.into())),
        })
    };
    let events = [
        Event {
            place: "Kendal".into(),
            did: "purchased from the artist".into(),
            when: When::On("1868".into()),
            next: Next::Directly,
            ..life("Ann Carrow", "1821", "1899")
        },
        Event {
            how: How::Descent(Some("her nephew".into())),
            place: "Kendal".into(),
            next: Next::Directly,
            ..life("John Carrow", "1860", "1931")
        },
        Event {
            place: "Lancaster".into(),
            when: When::On("1932-05-14".into()),
            details: vec!["lot 88".into()],
            next: Next::Directly,
            ..trade("Messrs Poll & Thrupp")
        },
        Event {
            place: "London".into(),
            next: Next::Directly,
            ..trade("Hartwell Gallery")
        },
        Event {
            how: How::PurchasedBy,
            place: "York".into(),
            when: When::On("1933".into()),
            next: Next::Directly,
            ..owner("Miss E. Dunn")
        },
        Event {
            how: How::Gift("her".into()),
            when: When::On("1950".into()),
            ..owner("the museum")
        },
    ];
    assert_eq!(
        line(&events),
        "Ann Carrow [1821-1899], Kendal, purchased from the artist 1868; by descent to her nephew, John Carrow [1860-1931], Kendal; (Messrs Poll & Thrupp, Lancaster, 14 May 1932, lot 88); (Hartwell Gallery, London); purchased by Miss E. Dunn, York, 1933; her gift to the museum, 1950."
    );
}

#[test]
fn a_gap_is_a_full_stop_and_notes_hold_the_evidence() {
    let events = [
        Event {
            when: When::UntilAtLeast("1874".into()),
            notes: vec![1],
            ..owner("The artist")
        },
        Event {
            trade: "carver and gilder".into(),
            place: "Perth".into(),
            did: "reframed".into(),
            when: When::On("1888~/1895~".into()),
            notes: vec![2],
            ..trade("J. Semple")
        },
        Event {
            place: "England".into(),
            when: When::By("1961".into()),
            next: Next::Further,
            ..owner("private collection")
        },
    ];
    assert_eq!(
        line(&events),
        "The artist, until at least 1874 [1]. (J. Semple, carver and gilder, Perth, reframed c. 1888-1895 [2]). Private collection, England, by 1961; ..."
    );
    assert_eq!(
        notes(&[
            "Exhibition label.".into(),
            "Printed label on frame, address in use 1888-1895; shows framing, not ownership."
                .into()
        ]),
        "[1] Exhibition label. [2] Printed label on frame, address in use 1888-1895; shows framing, not ownership."
    );
}

#[test]
fn doubt_stands_in_words_before_the_link() {
    let events = [
        Event {
            doubt: Doubt::Possibly,
            place: "Ludlow".into(),
            notes: vec![1],
            next: Next::Directly,
            ..owner("Revd T. Askew")
        },
        Event {
            doubt: Doubt::Probably,
            how: How::Descent(None),
            place: "Ludlow".into(),
            when: When::By("1902".into()),
            notes: vec![2],
            ..owner("Mrs M. Lane")
        },
    ];
    assert_eq!(
        line(&events),
        "Possibly Revd T. Askew, Ludlow [1]; probably by descent to Mrs M. Lane, Ludlow, by 1902 [2]."
    );
    assert_eq!(
        notes(&[
            "Ink inscription, surname only legible.".into(),
            "Loan label, name and town legible, year read as 190[2].".into()
        ]),
        "[1] Ink inscription, surname only legible. [2] Loan label, name and town legible, year read as 190[2]."
    );
    // The whole year can't be read: the editor's signs stay
    let read = Event {
        when: When::ByRead("190[2]".into()),
        ..owner("Mrs M. Lane")
    };
    assert_eq!(line(&[read]), "Mrs M. Lane, by 190[2].");
}

#[test]
fn an_anonymous_sale_and_the_gap_of_1933_to_1945_are_named() {
    let events = [
        Event {
            details: vec![
                "stencil \"417 XR\" on stretcher".into(),
                "before 1936?".into(),
            ],
            ..Event::new(Who::AnonymousSale("unidentified house".into()))
        },
        Event {
            place: "Brussels".into(),
            details: vec!["stock no. 2214".into(), "label".into()],
            ..trade("Galerie Orme")
        },
        Event {
            next: Next::UnknownFurther,
            ..Event::new(Who::Statement(
                "Whereabouts 1933-1945 not established".into(),
            ))
        },
    ];
    assert_eq!(
        line(&events),
        "Anon. sale (unidentified house, stencil \"417 XR\" on stretcher, before 1936?). (Galerie Orme, Brussels, stock no. 2214, label). Whereabouts 1933-1945 not established. ..."
    );
}

#[test]
fn evidence_without_an_owner_says_so() {
    let said = |words: &str, next: Next| Event {
        next,
        ..Event::new(Who::Statement(words.into()))
    };
    let events = [
        said("No owner recorded before 1948", Next::Unknown),
        said(
            "The canvas bears a supplier's stamp used 1863-1871",
            Next::Directly,
        ),
        said(
            "the frame bears a framer's label used 1904-1911",
            Next::Directly,
        ),
        said(
            "frame and canvas therefore may not have begun together",
            Next::Unknown,
        ),
    ];
    assert_eq!(
        line(&events),
        "No owner recorded before 1948. The canvas bears a supplier's stamp used 1863-1871; the frame bears a framer's label used 1904-1911; frame and canvas therefore may not have begun together."
    );
}

#[test]
fn dates_are_written_as_the_guide_writes_them() {
    use dorso::note::provenance::date;
    for (edtf, words) in [
        ("1868", "1868"),
        ("1890~", "c. 1890"),
        ("1936?", "1936?"),
        ("1932-05-14", "14 May 1932"),
        ("1932-05", "May 1932"),
        ("187X", "1870s"),
        ("1888/1895", "1888-1895"),
        ("[1868..1875]", "1868-1875"),
        ("[1868..]", "1868 or later"),
        ("[..1875]", "by 1875"),
        ("some time", "some time"),
    ] {
        assert_eq!(date(edtf), words);
    }
}

#[test]
fn a_link_never_says_more_than_its_chance() {
    use dorso::note::certainty::fault;
    for p in [0.0, 0.1, 0.25, 0.39, 0.4, 0.6, 0.74, 0.75, 0.9, 0.95, 0.999] {
        let e = Event {
            doubt: Doubt::of(p),
            ..owner("Miss E. Dunn")
        };
        // Below a chance of 0.1 no link is written at all
        if p >= 0.1 {
            assert_eq!(fault(&line(&[e]), p), None, "{p}");
        }
    }
}
