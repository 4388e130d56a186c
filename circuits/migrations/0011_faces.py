"""Connector faces of a circuit; sealed with their revision like its other rows."""

import django.db.models.deletion
from django.db import migrations, models

REFUSE_ROWS = """
CREATE TRIGGER facerow_stays BEFORE INSERT OR UPDATE OR DELETE ON circuits_facerow
    FOR EACH ROW EXECUTE FUNCTION circuits_refuse_row_change();
"""
UNDO = "DROP TRIGGER facerow_stays ON circuits_facerow;"


class Migration(migrations.Migration):
    dependencies = [("circuits", "0010_compounds")]

    operations = [
        migrations.CreateModel(
            name="FaceRow",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("order", models.PositiveSmallIntegerField()),
                ("above", models.JSONField(blank=True, default=list)),
                ("remark", models.CharField(blank=True, max_length=300)),
                ("name", models.CharField(max_length=40)),
                ("side", models.CharField(max_length=10)),
                ("rows", models.PositiveSmallIntegerField()),
                ("columns", models.PositiveSmallIntegerField()),
                ("words", models.CharField(blank=True, max_length=300)),
                ("cavities", models.JSONField()),
                ("revision", models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="faces", to="circuits.revision")),
            ],
            options={"ordering": ["revision", "order"], "abstract": False},
        ),
        migrations.AddConstraint(
            model_name="facerow",
            constraint=models.UniqueConstraint(fields=("revision", "order"), name="circuits_face_order_once"),
        ),
        migrations.AddConstraint(
            model_name="facerow",
            constraint=models.UniqueConstraint(fields=("revision", "name"), name="circuits_face_name_once"),
        ),
        migrations.RunSQL(REFUSE_ROWS, UNDO),
    ]
