/* What a farm owes the house. */
#ifndef COTYL_SHOW_FARM_H
#define COTYL_SHOW_FARM_H

#include "client.h"

/* Empty trays as of day `on`: owed for hand-overs, and brought back. */
struct cot_empties {
    int64_t owed, back;
};
void cot_empties_read(struct cot_cli *cli, const struct cot_id *farm, int32_t on, struct cot_empties *out);

void cot_farm_put_text(struct cot_cli *cli, const struct cot_thing *farm, int32_t on, struct cot_buf *out);
/* ,"empties":{"on","owed","back","still_owed"} */
void cot_farm_put_json(struct cot_cli *cli, const struct cot_thing *farm, int32_t on, struct cot_buf *out);

#endif
