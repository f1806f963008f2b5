"""The address of every page, on a library with one of everything."""

from small_session import SmallSession

WITHOUT_ROWS = (
    "/keys",
    "/projects",
    "/projects/new",
    "/gear",
    "/gear/new",
    "/gear/new?start=single_channel_amp",
    "/find",
    "/find?q=fuzz",
    "/find?q=fuzz+above+noon",
    "/find?like=1&keeper=yes",
    "/bring-in",
    "/devices",
    "/backups",
)


def pages_of(session: SmallSession) -> list[str]:
    first, second, third = session.passes
    return [
        *WITHOUT_ROWS,
        "/chain?chain=interface+>+fuzz+>+ribbon+30+mm",
        f"/projects/{session.project}",
        f"/projects/{session.project}/edit",
        f"/projects/{session.project}/delete",
        f"/projects/{session.project}/log",
        f"/projects/{session.project}/timeline",
        f"/projects/{session.project}/ears",
        f"/projects/{session.project}/hand-on",
        f"/projects/{session.project}/hand-on?audio=none&photos=no&passes=keepers",
        f"/projects/{session.project}/printing",
        f"/projects/{session.project}/inbox",
        f"/projects/{session.project}/inbox/list",
        f"/projects/{session.project}/inbox/left",
        f"/folders/{session.folder}/delete",
        f"/arrivals/{session.arrival}",
        f"/gear/{session.interface}/calibrate",
        f"/projects/{session.project}/sources/new",
        *(
            f"/sources/{source}{part}"
            for source in (session.bass, session.organ)
            for part in ("", "/measures", "/ledger", "/edit", "/delete", "/passes/new")
        ),
        f"/sources/{session.organ}/passes/new?like={first}",
        f"/drafts/{session.draft}/line?line=drive+7,+tone+to+taste",
        f"/drafts/{session.draft}/turned",
        f"/drafts/{session.draft}/gear/{session.amp}/control",
        f"/drafts/{session.draft}/cells?field=control-{session.amp}-1&field=placement-{session.near_mic}-angle",
        f"/sources/{session.bass}?column=open&rows=changes&passes=1",
        f"/sources/{session.bass}/ledger?column=open&unfolded={session.amp}&rows=changes",
        *(
            f"/passes/{number}{part}"
            for number in session.passes
            for part in (
                "",
                "/judge",
                "/prints",
                "/edit",
                "/delete",
                "/recall",
                "/recalls",
                "/knobs",
                "/reference",
                "/reference/found",
                "/hook-up",
                "/levels",
                "/microphones",
                "/blend",
            )
        ),
        *(
            f"/gear/{piece}{part}"
            for piece in (session.amp, session.near_mic, session.unused, session.retired)
            for part in ("", "/edit", "/delete", "/ports")
        ),
        f"/compare?pass={first}&pass={second}&pass={third}",
        f"/compare?pass={first}&pass={second}&base={second}&drawn=loudness&rows=all",
        f"/compare/pair?pass={first}&pass={second}",
        f"/copies?pass={first}",
        *(
            f"/recalls/{session.recall}{part}"
            for part in ("", "/delete", "/tries", "/camera", "?only=differences", "?only=open")
        ),
        f"/tries/{session.tried}/delete",
        f"/recalls/{session.recall}/reference",
        f"/recalls/{session.recall}/reference/found",
        f"/projects/{session.project}/reference",
        f"/references/{session.reference}/delete",
        f"/reference-prints/{session.reference_print}/delete",
        f"/blind/{session.blind}",
        f"/tests/{session.test}",
        f"/prints/{session.prints[0]}/delete",
        f"/prints/{session.prints[0]}/move",
        f"/photos/{session.photos[0]}/delete",
        f"/photos/{session.photos[0]}/pins",
        f"/photos/{session.photos[2]}/pins",
        f"/photos/{session.photos[2]}/delete",
        f"/photos/{session.photos[2]}/panel",
        f"/drafts/{session.draft}/readings",
    ]
