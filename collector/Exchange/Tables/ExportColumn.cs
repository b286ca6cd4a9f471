namespace Cardassay.Collector.Exchange.Tables;

/// <summary>What a column of an export holds, or nothing where it is unknown.</summary>
internal enum ColumnType
{
    /// <summary>Text.</summary>
    Text = 0,

    /// <summary>A whole number of 64 bits.</summary>
    Whole = 1,

    /// <summary>A number of 64 bits.</summary>
    Number = 2,

    /// <summary>True or false; never nothing.</summary>
    Flag = 3,

    /// <summary>A day.</summary>
    Day = 4,

    /// <summary>A moment in UTC, to the millisecond.</summary>
    Moment = 5,
}

/// <summary>One column of an export.</summary>
/// <param name="Name">Name, the same in CSV, JSON and Parquet.</param>
/// <param name="Type">What it holds.</param>
/// <param name="Unit">Its unit; "" for none.</param>
/// <param name="Meaning">What it means, a sentence.</param>
internal sealed record ExportColumn(string Name, ColumnType Type, string Unit, string Meaning);
