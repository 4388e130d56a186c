"""Compound faults of a circuit; sealed with their revision like its other rows."""

import django.db.models.deletion
from django.db import migrations, models

REFUSE_ROWS = """
CREATE TRIGGER compoundrow_stays BEFORE INSERT OR UPDATE OR DELETE ON circuits_compoundrow
    FOR EACH ROW EXECUTE FUNCTION circuits_refuse_row_change();
"""
UNDO = "DROP TRIGGER compoundrow_stays ON circuits_compoundrow;"


class Migration(migrations.Migration):
    dependencies = [("circuits", "0009_references")]

    operations = [
        migrations.CreateModel(
            name="CompoundRow",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("order", models.PositiveSmallIntegerField()),
                ("above", models.JSONField(blank=True, default=list)),
                ("remark", models.CharField(blank=True, max_length=300)),
                ("key", models.CharField(max_length=60)),
                ("words", models.CharField(max_length=300)),
                ("faults", models.JSONField()),
                ("revision", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="compounds", to="circuits.revision")),
            ],
            options={"ordering": ["revision", "order"], "abstract": False},
        ),
        migrations.AddConstraint(
            model_name="compoundrow",
            constraint=models.UniqueConstraint(fields=("revision", "order"), name="circuits_compound_order_once"),
        ),
        migrations.AddConstraint(
            model_name="compoundrow",
            constraint=models.UniqueConstraint(fields=("revision", "key"), name="circuits_compound_key_once"),
        ),
        migrations.RunSQL(REFUSE_ROWS, UNDO),
    ]
