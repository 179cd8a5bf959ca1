// Reads a Parquet file with a library that we did not write it with: node parquet.mjs NODE_MODULES FILE
import {readFileSync} from 'node:fs'
import {pathToFileURL} from 'node:url'
import {resolve} from 'node:path'

const {parquetMetadata, parquetReadObjects} = await import(pathToFileURL(resolve(process.argv[2], 'hyparquet/src/index.js')))
const bytes = readFileSync(process.argv[3])
const file = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength)
const about = parquetMetadata(file)
const rows = await parquetReadObjects({file})
const plain = v => v instanceof Date ? v.toISOString().slice(0, 10) : typeof v === 'bigint' ? Number(v) : v === undefined ? null : v
console.log(JSON.stringify({
  createdBy: about.created_by,
  metadata: Object.fromEntries(about.key_value_metadata.map(m => [m.key, m.value])),
  columns: about.schema.slice(1).map(s => ({name: s.name, physical: s.type, logical: s.logical_type?.type ?? '', optional: s.repetition_type === 'OPTIONAL'})),
  rows: rows.map(r => Object.fromEntries(Object.entries(r).map(([k, v]) => [k, plain(v)]))),
}))
