// The list of the session being cleaned up after, with reasons, steps and cautions. The ledger has
// what is owed and how it ended; this copy only spares planning it anew.
import { fromBinary } from "@bufbuild/protobuf";
import { WindDownSchema, type WindDown } from "../messages/core/proto/wind_down_pb";
import { from_base64, kept, to_base64 } from "./kept";

export function keep_list(session: string, bytes: Uint8Array): void {
  kept.setList(`${session} ${to_base64(bytes)}`);
}

export function kept_list(session: string): WindDown | undefined {
  const [key, base64] = (kept.list() ?? "").split(" ");
  if (key !== session || base64 === undefined) return undefined;
  try {
    return fromBinary(WindDownSchema, from_base64(base64));
  } catch {
    return undefined;
  }
}
