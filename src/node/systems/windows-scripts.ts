import type { WindowsDevice } from './windows-device.js';

/*
 * What Windows PowerShell 5.1 is told to do, one line each. Single quotes only: the words pass through a command line.
 * What is filled in is a letter, a number or a GUID, checked here once more. Groups are hash tables and plain
 * properties, which PowerShell also makes where an administrator allows it no more than a constrained language.
 */

/** Text in UTF-8, and an end at the first error of each part. */
const start =
  "$ErrorActionPreference='Stop';$ProgressPreference='SilentlyContinue';" +
  'try{[Console]::OutputEncoding=New-Object Text.UTF8Encoding $false}catch{};$r=@{};';
const finish = 'ConvertTo-Json -InputObject $r -Compress -Depth 8';

const diskOf = (number: string): string =>
  `try{$r.disk=Get-Disk -Number ${number}|Select-Object Number,PartitionStyle,NumberOfPartitions,LogicalSectorSize,Size,IsReadOnly}catch{};`;
const partitionKeys = 'DiskNumber,PartitionNumber,MbrType,GptType,Offset,Size,IsReadOnly';

/** The volume under a drive letter, its partition, its disk, and all partitions of the disk. */
export function volumeScript(letter: string): string {
  const drive = checked(letter, /^[A-Z]$/);
  return (
    start +
    `try{$r.volume=Get-Volume -DriveLetter '${drive}'|Select-Object DriveLetter,FileSystem,FileSystemLabel,AllocationUnitSize}catch{};` +
    `try{$p=Get-Partition -DriveLetter '${drive}';$r.partition=$p|Select-Object ${partitionKeys};` +
    `$r.partitions=@(Get-Partition -DiskNumber $p.DiskNumber|Select-Object PartitionNumber,MbrType)}catch{};` +
    `if($p){${diskOf('$p.DiskNumber')}};` +
    // Where the storage module is missing or refuses, an older class knows the volume, though not its disk.
    `if(-not $r.volume){try{$r.cim=Get-CimInstance Win32_Volume -Filter 'DriveLetter=''${drive}:'''|Select-Object FileSystem,Label,BlockSize}catch{}};` +
    finish
  );
}

/**
 * All disks but those that Windows runs from, with their volumes; drives with removable media by the older class where
 * that fails.
 */
export const cardsScript =
  start +
  '$m=@{};try{Get-CimInstance Win32_DiskDrive|ForEach-Object{$m[[string]$_.Index]=$_.MediaType}}catch{};' +
  'try{$r.disks=@(Get-Disk|Where-Object{-not($_.IsBoot -or $_.IsSystem)}|ForEach-Object{$n=$_.Number;@{Number=$n;FriendlyName=$_.FriendlyName;Size=$_.Size;' +
  'IsBoot=$_.IsBoot;IsSystem=$_.IsSystem;MediaType=$m[[string]$n];' +
  'Volumes=@(try{Get-Partition -DiskNumber $n|ForEach-Object{try{Get-Volume -Partition $_|' +
  'Select-Object DriveLetter,DriveType,FileSystem,FileSystemLabel}catch{}}}catch{})}})}catch{};' +
  "if(-not $r.ContainsKey('disks')){try{$r.cim=@(Get-CimInstance Win32_Volume -Filter 'DriveType=2'|" +
  'Select-Object DriveLetter,FileSystem,Label,Capacity)}catch{}};' +
  finish;

/** A device's partition, unless it is a whole disk, and its disk. */
export function deviceScript(device: WindowsDevice): string {
  if (device.kind === 'disk') return start + diskOf(number(device.disk)) + finish;
  const find =
    device.kind === 'partition'
      ? `Get-Partition -DiskNumber ${number(device.disk)} -PartitionNumber ${number(device.partition)}`
      : device.kind === 'letter'
        ? `Get-Partition -DriveLetter '${checked(device.letter, /^[A-Z]$/)}'`
        : `Get-Partition|Where-Object{$_.AccessPaths -contains '\\\\?\\Volume{${checked(device.guid, /^[0-9a-f-]{36}$/)}}\\'}`;
  return `${start}try{$p=${find};$r.partition=$p|Select-Object ${partitionKeys}}catch{};if($p){${diskOf('$p.DiskNumber')}};${finish}`;
}

const number = (value: number): string => checked(String(value), /^\d{1,4}$/);

function checked(text: string, form: RegExp): string {
  if (!form.test(text)) throw new Error(`${JSON.stringify(text)} must not get into a script`);
  return text;
}
