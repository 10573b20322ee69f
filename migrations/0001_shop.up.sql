-- The shop itself, its people, and how they sign in.
-- Keys are UUIDv7 made by the program; times are timestamptz; texts that are
-- looked up by their beginning have collation "C", so that a plain index serves
-- ranges whatever the server's locale.

CREATE TABLE site (
    id         uuid PRIMARY KEY,
    name       text NOT NULL CHECK (name <> ''),
    address    text NOT NULL DEFAULT '',
    tz         text NOT NULL,
    locale     text NOT NULL,
    currency   text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    created_at timestamptz NOT NULL
);

-- The shop's terms: a row counts from valid_from until the next one begins.
CREATE TABLE setting (
    site_id          uuid NOT NULL REFERENCES site,
    valid_from       timestamptz NOT NULL,
    taxes            jsonb NOT NULL,
    labour_rate      numeric(16, 6) NOT NULL CHECK (labour_rate >= 0),
    examination_fee  numeric(16, 6) NOT NULL CHECK (examination_fee >= 0),
    credit_fee       boolean NOT NULL,
    guarantee_days   integer NOT NULL CHECK (guarantee_days >= 0),
    ask_percent      integer NOT NULL CHECK (ask_percent BETWEEN 1 AND 100),
    -- the owner may tighten these two, never loosen them
    handling_volts   double precision NOT NULL CHECK (handling_volts > 0 AND handling_volts <= 5),
    resistance_volts double precision NOT NULL CHECK (resistance_volts > 0 AND resistance_volts <= 0.1),
    PRIMARY KEY (site_id, valid_from)
);

CREATE TABLE person (
    id                   uuid PRIMARY KEY,
    site_id              uuid NOT NULL REFERENCES site,
    name                 text NOT NULL CHECK (name <> ''),
    name_key             text COLLATE "C" NOT NULL UNIQUE, -- the name in small letters
    role                 text NOT NULL CHECK (role IN ('front_desk', 'bench', 'owner')),
    password_hash        text NOT NULL,
    must_change_password boolean NOT NULL,
    created_at           timestamptz NOT NULL,
    deactivated_at       timestamptz
);
CREATE INDEX person_by_site ON person (site_id, name_key);

CREATE TABLE device (
    id         uuid PRIMARY KEY,
    site_id    uuid NOT NULL REFERENCES site,
    name       text NOT NULL,
    token_hash bytea NOT NULL UNIQUE,
    created_at timestamptz NOT NULL,
    revoked_at timestamptz
);

CREATE TABLE session (
    id           uuid PRIMARY KEY,
    token_hash   bytea NOT NULL UNIQUE,
    person_id    uuid NOT NULL REFERENCES person,
    device_id    uuid REFERENCES device,
    created_at   timestamptz NOT NULL,
    last_seen_at timestamptz NOT NULL,
    expires_at   timestamptz NOT NULL
);
CREATE INDEX session_by_person ON session (person_id);
CREATE INDEX session_by_end ON session (expires_at);

CREATE TABLE audit (
    id        uuid PRIMARY KEY,
    at        timestamptz NOT NULL,
    site_id   uuid REFERENCES site,
    person_id uuid REFERENCES person,
    name      text NOT NULL,
    kind      text NOT NULL CHECK (kind <> ''),
    address   text NOT NULL,
    note      text NOT NULL
);
CREATE INDEX audit_newest ON audit (at DESC, id DESC);

-- The last number given, of tickets and of each kind of document. The row is
-- locked while a number is given, so that none is lost and none comes twice.
CREATE TABLE document_series (
    site_id uuid NOT NULL REFERENCES site,
    kind    text NOT NULL CHECK (kind <> ''),
    last    bigint NOT NULL CHECK (last >= 0),
    PRIMARY KEY (site_id, kind)
);

-- What is only ever added to says so itself.
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END
$$;

CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON setting
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON audit
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER never_deleted BEFORE DELETE ON person
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
