// Bytes of messages from values, and back, by the table of their fields (tools/messages.mjs). Types and
// values are as protobuf-es has them; the bytes are its reader's and writer's.
import type { MessageInitShape, MessageShape } from "@bufbuild/protobuf";
import { BinaryReader, BinaryWriter, WireType } from "@bufbuild/protobuf/wire";
import type { RequestSchema, ResponseSchema } from "../messages/core/proto/door_pb";
import { table } from "../messages/table";

interface Known {
  Request: typeof RequestSchema;
  Response: typeof ResponseSchema;
}

type Message = Record<string, unknown>;
interface OneOf {
  case?: string;
  value?: unknown;
}

interface Field {
  oneof: string | undefined;
  name: string;
  number: number;
  type: string;
  /** Repeated (*), or told apart from its default (?). */
  mark: string;
}

interface Scalar {
  none: unknown;
  wire: WireType;
  read: (from: BinaryReader) => unknown;
  write: (to: BinaryWriter, value: never) => unknown;
}

const varint = WireType.Varint;
const scalars: Readonly<Record<string, Scalar>> = {
  "": { none: "", wire: WireType.LengthDelimited, read: (from) => from.string(), write: (to, value) => to.string(value) },
  b: { none: false, wire: varint, read: (from) => from.bool(), write: (to, value) => to.bool(value) },
  d: { none: 0, wire: WireType.Bit64, read: (from) => from.double(), write: (to, value) => to.double(value) },
  i: { none: 0, wire: varint, read: (from) => from.int32(), write: (to, value) => to.int32(value) },
  l: { none: 0n, wire: varint, read: (from) => from.int64(), write: (to, value) => to.int64(value) },
  m: { none: 0n, wire: varint, read: (from) => from.uint64(), write: (to, value) => to.uint64(value) },
  u: { none: 0, wire: varint, read: (from) => from.uint32(), write: (to, value) => to.uint32(value) },
  y: { none: new Uint8Array(), wire: WireType.LengthDelimited, read: (from) => from.bytes(), write: (to, value) => to.bytes(value) },
};

const fields_of = new Map<string, readonly Field[]>();
for (const line of table.split("\n")) {
  const [message, ...fields] = line.split(" ");
  let before = 0;
  fields_of.set(
    message!,
    fields.map((text) => {
      const [, oneof, name, number, type = "", mark] = /^(?:(\w+)\.)?(\w+)(?:=(\d+))?(?::(\w+))?([*?]?)$/.exec(text)!;
      before = number === undefined ? before + 1 : Number(number);
      return { oneof, name: name!, number: before, type, mark: mark! };
    }),
  );
}

function put(to: BinaryWriter, field: Field, value: unknown): void {
  const scalar = scalars[field.type];
  if (scalar) {
    scalar.write(to.tag(field.number, scalar.wire), value as never);
  } else {
    write(to.tag(field.number, WireType.LengthDelimited).fork(), field.type, value as Message).join();
  }
}

function write(to: BinaryWriter, name: string, message: Message): BinaryWriter {
  for (const field of fields_of.get(name)!) {
    const chosen = field.oneof === undefined ? undefined : (message[field.oneof] as OneOf | undefined);
    const value = field.oneof === undefined ? message[field.name] : chosen?.case === field.name ? chosen.value : undefined;
    if (value === undefined) continue;
    const scalar = scalars[field.type];
    if (field.mark === "*") {
      const values = value as readonly unknown[];
      if (scalar && scalar.wire !== WireType.LengthDelimited) {
        if (values.length === 0) continue;
        to.tag(field.number, WireType.LengthDelimited).fork();
        for (const one of values) scalar.write(to, one as never);
        to.join();
      } else {
        for (const one of values) put(to, field, one);
      }
    } else {
      const empty = value === scalar?.none || (field.type === "y" && (value as Uint8Array).length === 0);
      if (!empty || field.mark === "?" || field.oneof !== undefined) put(to, field, value);
    }
  }
  return to;
}

function take(from: BinaryReader, type: string): unknown {
  const scalar = scalars[type];
  return scalar ? scalar.read(from) : read(from, type, from.uint32());
}

function read(from: BinaryReader, name: string, length: number): Message {
  const end = from.pos + length;
  const fields = fields_of.get(name)!;
  const message: Message = {};
  for (const { oneof, name: field, type, mark } of fields) {
    if (oneof !== undefined) message[oneof] = {};
    else if (mark === "*") message[field] = [];
    else if (mark === "" && scalars[type]) message[field] = scalars[type].none;
  }
  while (from.pos < end) {
    const [number, wire] = from.tag();
    const field = fields.find((one) => one.number === number);
    if (!field) {
      from.skip(wire, number); // of a newer core
    } else if (field.mark !== "*") {
      const value = take(from, field.type);
      if (field.oneof === undefined) message[field.name] = value;
      else message[field.oneof] = { case: field.name, value };
    } else if (wire === WireType.LengthDelimited && (scalars[field.type]?.wire ?? wire) !== wire) {
      const all = message[field.name] as unknown[];
      for (const last = from.uint32() + from.pos; from.pos < last; ) all.push(take(from, field.type));
    } else {
      (message[field.name] as unknown[]).push(take(from, field.type));
    }
  }
  return message;
}

export function to_bytes<N extends keyof Known>(name: N, message: MessageInitShape<Known[N]>): Uint8Array {
  return write(new BinaryWriter(), name, message as unknown as Message).finish();
}

/** Throws where the bytes are no such message. */
export function from_bytes<N extends keyof Known>(name: N, bytes: Uint8Array): MessageShape<Known[N]> {
  return read(new BinaryReader(bytes), name, bytes.length) as unknown as MessageShape<Known[N]>;
}
