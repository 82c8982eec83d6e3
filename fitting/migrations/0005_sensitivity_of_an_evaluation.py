from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fitting", "0004_flexible_trees"),
    ]

    operations = [
        migrations.AddField(
            model_name="fitevaluation",
            name="sensitivity",
            field=models.JSONField(blank=True, default=dict),
        ),
    ]
