# A gas-discharge lamp is a hazard of its own, told at the lamp's steps.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('circuits', '0012_an_airbag_near'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='hazardrow',
            name='circuits_hazard_kind_known',
        ),
        migrations.AddConstraint(
            model_name='hazardrow',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['battery', 'cranking', 'fuel', 'airbag', 'near-airbag', 'high-voltage', 'discharge-lamp', 'moving-parts', 'hot-parts', 'crush', 'high-current', 'road-safety'])), name='circuits_hazard_kind_known'),
        ),
    ]
