"""Published revisions are never changed: the database itself refuses it.

A revision is sealed by its digest. Until then rows may be written; afterwards neither the
revision nor its rows can be changed, added to or deleted.
"""

from django.db import migrations

ROWS = ("connection", "phaserow", "partrow", "placerow", "coderow", "hazardrow")

REFUSE_REVISION = """
CREATE FUNCTION circuits_refuse_revision_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.digest <> '' THEN
        RAISE EXCEPTION 'a published revision is never changed; publish a new one'
            USING ERRCODE = 'restrict_violation';
    END IF;
    IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER revision_stays BEFORE UPDATE OR DELETE ON circuits_revision
    FOR EACH ROW EXECUTE FUNCTION circuits_refuse_revision_change();
"""

REFUSE_ROWS = """
CREATE FUNCTION circuits_refuse_row_change() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    touched bigint := CASE WHEN TG_OP = 'INSERT' THEN NEW.revision_id ELSE OLD.revision_id END;
BEGIN
    IF EXISTS (SELECT 1 FROM circuits_revision WHERE id = touched AND digest <> '') THEN
        RAISE EXCEPTION 'a published revision is never changed; publish a new one'
            USING ERRCODE = 'restrict_violation';
    END IF;
    IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
    RETURN NEW;
END $$;
""" + "".join(
    f"""
CREATE TRIGGER {row}_stays BEFORE INSERT OR UPDATE OR DELETE ON circuits_{row}
    FOR EACH ROW EXECUTE FUNCTION circuits_refuse_row_change();
"""
    for row in ROWS
)

UNDO = """
DROP FUNCTION circuits_refuse_row_change() CASCADE;
DROP FUNCTION circuits_refuse_revision_change() CASCADE;
"""


class Migration(migrations.Migration):
    dependencies = [("circuits", "0001_initial")]

    operations = [migrations.RunSQL(REFUSE_REVISION + REFUSE_ROWS, UNDO)]
