-- What was measured, seen and done on a board. Only ever added to.

CREATE TABLE meter_version (
    id         uuid PRIMARY KEY,
    name       text NOT NULL CHECK (name <> ''),
    sha256     bytea NOT NULL UNIQUE,
    yaml       text NOT NULL,
    created_at timestamptz NOT NULL
);

CREATE TABLE instrument (
    id               uuid PRIMARY KEY,
    site_id          uuid NOT NULL REFERENCES site,
    meter_version_id uuid NOT NULL REFERENCES meter_version,
    name             text NOT NULL CHECK (name <> ''),
    calibrated_until date,
    created_at       timestamptz NOT NULL,
    UNIQUE (site_id, name)
);

-- What devices sent, as it came: kept first, applied second. No references, so
-- that nothing is refused.
CREATE TABLE inbound (
    id          uuid PRIMARY KEY,
    item_id     uuid NOT NULL,
    digest      bytea NOT NULL, -- sha256 of raw
    ticket_id   uuid NOT NULL,
    device_id   uuid,
    device_seq  bigint NOT NULL,
    person_id   uuid,
    raw         text NOT NULL,
    received_at timestamptz NOT NULL,
    applied_at  timestamptz,
    error       text NOT NULL DEFAULT '',
    UNIQUE (item_id, digest)
);
CREATE INDEX inbound_kept ON inbound (ticket_id, received_at) WHERE applied_at IS NULL;

CREATE TABLE reading (
    id                 uuid PRIMARY KEY, -- made by the device
    ticket_id          uuid NOT NULL REFERENCES ticket,
    stage              text NOT NULL CHECK (stage IN ('before', 'after')),
    check_key          text NOT NULL,
    state              text NOT NULL CHECK (state <> ''),
    measure            text NOT NULL CHECK (measure <> ''),
    red                text NOT NULL,
    black              text NOT NULL,
    across             text NOT NULL,
    lifted             boolean NOT NULL,
    swapped            boolean NOT NULL,
    subject            text NOT NULL CHECK (subject IN ('', 'old', 'new')),
    typed              text NOT NULL,
    value              double precision,
    over_range         boolean NOT NULL,
    agrees             boolean NOT NULL,
    band_low           double precision,
    band_high          double precision,
    moving             text NOT NULL CHECK (moving IN ('', 'up', 'down')),
    residue            double precision,
    condition          text NOT NULL,
    not_possible       boolean NOT NULL,
    meter_version_id   uuid REFERENCES meter_version,
    profile_version_id uuid REFERENCES profile_version,
    person_id          uuid NOT NULL REFERENCES person,
    device_id          uuid REFERENCES device,
    device_seq         bigint NOT NULL,
    taken_at           timestamptz NOT NULL,
    taken_offset       integer NOT NULL, -- minutes east of UTC on the device
    received_at        timestamptz NOT NULL,
    CHECK ((across = '') <> (red = '')),
    CHECK (num_nonnulls(value) + over_range::int + agrees::int + not_possible::int = 1)
);
CREATE INDEX reading_by_ticket ON reading (ticket_id, taken_at, id);

CREATE TABLE strike (
    reading_id uuid PRIMARY KEY REFERENCES reading,
    reason     text NOT NULL CHECK (reason <> ''),
    person_id  uuid NOT NULL REFERENCES person,
    at         timestamptz NOT NULL
);

CREATE TABLE dead_proof (
    id               uuid PRIMARY KEY,
    ticket_id        uuid NOT NULL REFERENCES ticket,
    part             text NOT NULL CHECK (part <> ''),
    volts            double precision NOT NULL,
    volts_swapped    double precision NOT NULL,
    before_at        timestamptz,
    before_ok        boolean NOT NULL,
    read_at          timestamptz NOT NULL,
    after_at         timestamptz,
    after_ok         boolean NOT NULL,
    handling_limit   double precision NOT NULL,
    resistance_limit double precision NOT NULL,
    result           text NOT NULL CHECK (result IN ('unproven', 'dead_handling', 'dead_resistance', 'low_volts', 'live')),
    person_id        uuid NOT NULL REFERENCES person,
    device_id        uuid REFERENCES device,
    taken_at         timestamptz NOT NULL,
    received_at      timestamptz NOT NULL,
    -- live, dead, live: nothing is dead without both proofs of the meter
    CHECK (result NOT IN ('dead_handling', 'dead_resistance')
        OR (before_ok AND after_ok AND COALESCE(before_at <= read_at AND read_at <= after_at, false)))
);
CREATE INDEX dead_proof_by_ticket ON dead_proof (ticket_id, read_at, id);

CREATE TABLE power_event (
    id          uuid PRIMARY KEY,
    ticket_id   uuid NOT NULL REFERENCES ticket,
    "on"        boolean NOT NULL,
    hazardous   boolean NOT NULL,
    state       text NOT NULL,
    note        text NOT NULL,
    person_id   uuid NOT NULL REFERENCES person,
    device_id   uuid REFERENCES device,
    taken_at    timestamptz NOT NULL,
    received_at timestamptz NOT NULL
);
CREATE INDEX power_event_by_ticket ON power_event (ticket_id, taken_at, id);

CREATE TABLE finding (
    id           uuid PRIMARY KEY,
    ticket_id    uuid NOT NULL REFERENCES ticket,
    part         text NOT NULL,
    mode         text NOT NULL,
    words        text NOT NULL,
    confirmed_by uuid NOT NULL REFERENCES person,
    taken_at     timestamptz NOT NULL
);
CREATE INDEX finding_by_ticket ON finding (ticket_id, taken_at, id);

CREATE TABLE finding_withdrawal (
    finding_id uuid PRIMARY KEY REFERENCES finding,
    reason     text NOT NULL CHECK (reason <> ''),
    person_id  uuid NOT NULL REFERENCES person,
    at         timestamptz NOT NULL
);

CREATE TABLE fitted (
    id        uuid PRIMARY KEY,
    ticket_id uuid NOT NULL REFERENCES ticket,
    part      text NOT NULL CHECK (part <> ''),
    what      text NOT NULL,
    note      text NOT NULL,
    person_id uuid NOT NULL REFERENCES person,
    taken_at  timestamptz NOT NULL
);
CREATE INDEX fitted_by_ticket ON fitted (ticket_id, taken_at, id);

CREATE TABLE seen (
    id        uuid PRIMARY KEY,
    ticket_id uuid NOT NULL REFERENCES ticket,
    part      text NOT NULL CHECK (part <> ''),
    what      text NOT NULL CHECK (what <> ''),
    note      text NOT NULL,
    person_id uuid NOT NULL REFERENCES person,
    taken_at  timestamptz NOT NULL
);
CREATE INDEX seen_by_ticket ON seen (ticket_id, taken_at, id);

DO $$
DECLARE
    t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['meter_version', 'reading', 'strike', 'dead_proof', 'power_event',
                             'finding', 'finding_withdrawal', 'fitted', 'seen'] LOOP
        EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON %I
                        FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
END
$$;
CREATE TRIGGER never_deleted BEFORE DELETE ON inbound
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
