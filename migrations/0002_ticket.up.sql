-- Customers, boards, what is known of them, and their stays in the shop.

CREATE TABLE customer (
    id                   uuid PRIMARY KEY,
    name                 text NOT NULL CHECK (name <> ''),
    phone                text NOT NULL,
    phone_digits         text COLLATE "C" NOT NULL CHECK (phone_digits ~ '^[0-9]*$'),
    email                text NOT NULL,
    standing_limit_minor bigint CHECK (standing_limit_minor >= 0),
    standing_currency    text,
    note                 text NOT NULL,
    version              bigint NOT NULL,
    created_at           timestamptz NOT NULL,
    erased_at            timestamptz,
    CHECK ((standing_limit_minor IS NULL) = (standing_currency IS NULL))
);
CREATE INDEX customer_by_phone ON customer (phone_digits) WHERE phone_digits <> '';
CREATE INDEX customer_by_phone_end ON customer (reverse(phone_digits)) WHERE phone_digits <> '';

-- The words of a customer's name, in small letters and without accents.
CREATE TABLE customer_word (
    word        text COLLATE "C" NOT NULL,
    customer_id uuid NOT NULL REFERENCES customer ON DELETE CASCADE,
    PRIMARY KEY (word, customer_id)
);
CREATE INDEX customer_word_by_customer ON customer_word (customer_id);

CREATE TABLE family (
    id              uuid PRIMARY KEY,
    name            text NOT NULL CHECK (name <> ''),
    name_key        text COLLATE "C" NOT NULL UNIQUE,
    title           text NOT NULL,
    new_board_minor bigint CHECK (new_board_minor >= 0),
    new_board_currency text,
    created_at      timestamptz NOT NULL,
    CHECK ((new_board_minor IS NULL) = (new_board_currency IS NULL))
);

CREATE TABLE revision (
    id         uuid PRIMARY KEY,
    family_id  uuid NOT NULL REFERENCES family,
    name       text COLLATE "C" NOT NULL CHECK (name <> ''),
    created_at timestamptz NOT NULL,
    UNIQUE (family_id, name),
    UNIQUE (id, family_id)
);

-- One immutable version of a board profile.
CREATE TABLE profile_version (
    id          uuid PRIMARY KEY,
    revision_id uuid NOT NULL REFERENCES revision,
    key         text COLLATE "C" NOT NULL, -- the profile's own id
    sha256      bytea NOT NULL,            -- of the flattened text
    yaml        text NOT NULL,             -- as written
    flattened   text NOT NULL,             -- with what it is based on merged in
    parent_id   uuid REFERENCES profile_version,
    author      text NOT NULL,
    reason      text NOT NULL,
    created_at  timestamptz NOT NULL,
    UNIQUE (key, sha256)
);
CREATE INDEX profile_version_newest ON profile_version (revision_id, created_at DESC, id DESC);
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON profile_version
    FOR EACH ROW EXECUTE FUNCTION refuse_change();

-- The physical thing, known again by its serial number or our own tag.
CREATE TABLE board (
    id          uuid PRIMARY KEY,
    serial      text NOT NULL,
    serial_key  text COLLATE "C" NOT NULL, -- letters and digits, in capitals
    own_tag     text NOT NULL,
    tag_key     text COLLATE "C" NOT NULL,
    family_id   uuid REFERENCES family,
    revision_id uuid,
    created_at  timestamptz NOT NULL,
    FOREIGN KEY (revision_id, family_id) REFERENCES revision (id, family_id),
    CHECK (revision_id IS NULL OR family_id IS NOT NULL)
);
CREATE INDEX board_by_serial ON board (serial_key) WHERE serial_key <> '';
CREATE UNIQUE INDEX board_by_tag ON board (tag_key) WHERE tag_key <> '';

CREATE TABLE ticket (
    id                 uuid PRIMARY KEY,
    site_id            uuid NOT NULL REFERENCES site,
    number             bigint NOT NULL CHECK (number > 0),
    board_id           uuid NOT NULL REFERENCES board,
    customer_id        uuid NOT NULL REFERENCES customer,
    state              text NOT NULL CHECK (state IN (
                           'taken_in', 'on_the_shelf', 'on_the_bench', 'waiting_for_a_yes',
                           'waiting_for_a_part', 'on_soak', 'to_be_handed_over', 'handed_over',
                           'returned_unrepaired', 'scrapped_with_consent')),
    state_since        timestamptz NOT NULL,
    comeback_of        uuid REFERENCES ticket,
    profile_version_id uuid REFERENCES profile_version,
    promised_on        date,
    bay                text NOT NULL,
    limit_minor        bigint CHECK (limit_minor >= 0), -- NULL: ask before any work is charged
    currency           text NOT NULL,
    complaint          text NOT NULL,
    when_happens       text NOT NULL,
    indication         text NOT NULL,
    condition          text NOT NULL,
    accessories        text NOT NULL,
    touched_before     text NOT NULL,
    if_not_repaired    text NOT NULL CHECK (if_not_repaired IN ('', 'return', 'scrap')),
    version            bigint NOT NULL,
    taken_in_at        timestamptz NOT NULL,
    voided_at          timestamptz,
    void_reason        text NOT NULL DEFAULT '',
    UNIQUE (site_id, number)
);
CREATE INDEX ticket_open ON ticket (site_id, state, number)
    WHERE voided_at IS NULL AND state NOT IN ('handed_over', 'returned_unrepaired', 'scrapped_with_consent');
-- a board is here once at a time
CREATE UNIQUE INDEX ticket_open_board ON ticket (board_id)
    WHERE voided_at IS NULL AND state NOT IN ('handed_over', 'returned_unrepaired', 'scrapped_with_consent');
CREATE INDEX ticket_by_board ON ticket (board_id, taken_in_at DESC, id DESC);
CREATE INDEX ticket_by_customer ON ticket (customer_id, taken_in_at DESC, id DESC);
CREATE TRIGGER never_deleted BEFORE DELETE ON ticket
    FOR EACH ROW EXECUTE FUNCTION refuse_change();

-- The journal: every change of a ticket, in the order of the ticket's versions.
CREATE TABLE ticket_event (
    id             uuid PRIMARY KEY,
    ticket_id      uuid NOT NULL REFERENCES ticket,
    ticket_version bigint NOT NULL,
    kind           text NOT NULL CHECK (kind <> ''),
    change         jsonb NOT NULL,
    person_id      uuid NOT NULL REFERENCES person,
    device_id      uuid REFERENCES device,
    taken_at       timestamptz NOT NULL,
    received_at    timestamptz NOT NULL,
    UNIQUE (ticket_id, ticket_version)
);
CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON ticket_event
    FOR EACH ROW EXECUTE FUNCTION refuse_change();
