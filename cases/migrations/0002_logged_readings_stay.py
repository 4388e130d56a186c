"""A logged reading is never changed: the database itself refuses it.

A correction is a new line. Lines go only with their whole case.
"""

from django.db import migrations

REFUSE = """
CREATE FUNCTION cases_refuse_reading_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'a logged reading stays as it is; log a correction with its reason'
        USING ERRCODE = 'restrict_violation';
END $$;
CREATE TRIGGER loggedreading_stays BEFORE UPDATE ON cases_loggedreading
    FOR EACH ROW EXECUTE FUNCTION cases_refuse_reading_change();
"""
UNDO = "DROP FUNCTION cases_refuse_reading_change() CASCADE;"


class Migration(migrations.Migration):
    dependencies = [("cases", "0001_initial")]

    operations = [migrations.RunSQL(REFUSE, UNDO)]
